"""A program with a token."""

from __future__ import annotations

import json
from datetime import timedelta
from ipaddress import ip_network
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from farmbuild.access.codes import digest_of
from farmbuild.api.models import Token
from farmbuild.api.scopes import Scope
from farmbuild.api.webhooks import services
from tests.api.receiver import make_certificate, receiving


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


@pytest.fixture(scope="session")
def certificate(tmp_path_factory):
    return make_certificate(tmp_path_factory.mktemp("certificate"))


@pytest.fixture
def receiver(certificate, settings, monkeypatch):
    """On this machine, which the operator has opened for it."""
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
    with receiving(certificate) as found:
        settings.WEBHOOK_HOSTS = [f"localhost:{found.port}"]
        settings.WEBHOOK_NETWORKS = [ip_network("127.0.0.0/8"), ip_network("::1/128")]
        yield found


def webhook(organisation, user, url: str, *scopes: str) -> services.Shown:
    make(organisation, user, *(scopes or ("read",)))
    token = Token.objects.of(organisation).first()
    return services.add_webhook(organisation=organisation, user=user, url=url, token=token)
