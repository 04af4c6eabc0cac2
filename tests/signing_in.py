"""Signing in as a person does, by the form."""

from __future__ import annotations

from django.test import Client
from django.urls import reverse


def signs_in(client: Client, username: str, password: str, **more: str) -> bool:
    """Whether it worked; ``more``: headers as the server names them, such as REMOTE_ADDR."""
    client.post(reverse("sign-in"), {"username": username, "password": password}, **more)
    return "_auth_user_id" in client.session
