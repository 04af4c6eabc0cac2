"""Whoever comes second at a program or an address that is told is told what the first did."""

from __future__ import annotations

import pytest

from farmbuild.api import tokens
from farmbuild.api.models import Token, Webhook
from farmbuild.api.webhooks import services
from tests.api.conftest import make
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
URL = "https://told.example.org/farm"


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def token(who):
    make(**who)
    return Token.objects.get()


def test_no_more_programs_are_let_in_than_a_person_may_have(who, monkeypatch):
    monkeypatch.setattr(tokens, "MOST", 1)

    def let_in():
        tokens.make_token(**who, name="clock", scopes=["read"])

    assert "You have 1 programs let in already" in comes_second(let_in, let_in)


def test_a_program_ends_once(who, token):
    ends = []

    def end():
        tokens.end_token(**who, token=token)
        ends.append(Token.objects.get().ended_at)

    comes_second(end, end)
    assert len(set(ends)) == 1


def test_an_address_is_told_once_changed_by_turns_and_ends_for_all(who, token, settings):
    settings.WEBHOOK_HOSTS = ["told.example.org"]

    def add():
        services.add_webhook(**who, url=URL, token=token)

    assert comes_second(add, add) == "This address is told already."
    webhook = Webhook.objects.get()
    seen = [webhook.nonce]

    def change():
        services.change_secret(**who, webhook=webhook)
        seen.append(type(webhook).objects.get(pk=webhook.pk).nonce_before)

    comes_second(change, change)
    assert seen[1] == seen[0] and seen[2] != seen[0], "the second keeps the secret that the first made"

    def end():
        services.end_webhook(**who, webhook=webhook)

    told = comes_second(end, lambda: services.stop_webhook(**who, webhook=webhook))
    assert told == services._ENDED
