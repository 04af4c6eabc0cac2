"""A program with a token."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from farmbuild.access.codes import digest_of
from farmbuild.api.models import Token
from farmbuild.api.scopes import Scope


def make(organisation, user, *scopes: str, secret: str = "", **given: Any) -> str:
    """The secret of a token that is there; without a word all scopes."""
    secret = secret or f"fb1_{organisation.pk}-{user.pk}-{Token.objects.count()}"
    values = {"name": "clock", "ends_at": timezone.now() + timedelta(days=9)} | given
    Token.objects.create(
        organisation=organisation,
        user=user,
        digest=digest_of(secret, use="token"),
        begins=secret[:9],
        scopes=[*(scopes or map(str, Scope))],
        **values,
    )
    return secret


class Program:
    """Asks as another program does."""

    def __init__(self, secret: str) -> None:
        self.client = Client(headers={"Authorization": f"Bearer {secret}"}, raise_request_exception=False)

    def get(self, path: str, **asked: Any) -> HttpResponse:
        return self.client.get(f"/api/1{path}", asked)

    def send(self, path: str, body: Any, method: str = "POST", **headers: str) -> HttpResponse:
        return self.client.generic(
            method, f"/api/1{path}", json.dumps(body), content_type="application/json", headers=headers
        )


@pytest.fixture
def program(organisation, user):
    return Program(make(organisation, user))
