"""Signing in as a person does, by the form."""

from __future__ import annotations

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.access.models import SecondStep
from tests.factories import UserFactory


def signs_in(client: Client, username: str, password: str, **more: str) -> bool:
    """Whether it worked; ``more``: headers as the server names them, such as REMOTE_ADDR."""
    client.post(reverse("sign-in"), {"username": username, "password": password}, **more)
    return "_auth_user_id" in client.session


def keeper_of_the_server(**given: object) -> object:
    """Whoever opens the administration: they have a second step."""
    user = UserFactory(is_staff=True, is_superuser=True, **given)
    SecondStep.objects.create(user=user, nonce="n", on_since=timezone.now())
    return user
