"""Tokens: made and shown once, held to their person and scopes, counted, ended."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db.models import F
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.access import people
from farmbuild.api import tokens
from farmbuild.api.models import Token
from farmbuild.history.models import Entry
from farmbuild.orgs.acts import Act, NotAllowed, Role
from farmbuild.orgs.models import Membership
from tests.api.conftest import Program, make
from tests.client import plain
from tests.factories import MembershipFactory, OrganisationFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def planner(organisation, **given):
    return MembershipFactory(organisation=organisation, role=Role.PLANNER, user__first_name="Pip", **given).user


def test_made_on_its_page_shown_once_used_and_ended(signed_in, organisation, user):
    said = text_of(signed_in.get(reverse("api:tokens")))
    assert "0 tokens let other programs in." in said
    answer = signed_in.post(reverse("api:token-new"), {"name": "Clock", "scopes": ["read", "stock"], "days": "30"})
    page = text_of(signed_in.get(answer["Location"]))
    secret = re.search(r"fb1_[\w-]{40,}", page)[0]
    token = Token.objects.get()
    assert secret not in (token.digest, token.begins) and token.digest not in page
    assert "read houses, stock, plans, orders and work and move and count stock" in page
    assert secret not in text_of(signed_in.get(reverse("api:tokens")))
    other = Client()
    other.force_login(user)
    assert secret not in text_of(other.get(answer["Location"])), "another browser shows it no more"

    found = Program(secret).get("/token")
    assert found.json()["may"] == ["read", "stock"] and found.json()["person"] == user.display_name
    assert Token.objects.get().used_at is not None
    said = text_of(signed_in.get(reverse("api:tokens")))
    assert "1 token lets other programs in." in said and "never" not in said.split("<main")[1].split("</main>")[0]

    answer = signed_in.post(reverse("api:token-end", args=[token.pk]), follow=True)
    assert "Clock is let in no more." in text_of(answer)
    assert Program(secret).get("/token").status_code == 401
    signed_in.post(reverse("api:token-end", args=[token.pk]))
    assert "Clock" in text_of(signed_in.get(reverse("api:tokens") + "?over=1"))
    told = Entry.objects.filter(kind="token").order_by("pk").values_list("deed", "name")
    assert [*told] == [("let in", "Clock"), ("ended", "Clock")]
    assert secret not in str([*Entry.objects.values()])


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"name": ""}, "Type the program"),
        ({"scopes": []}, "Tick what the program may do."),
        ({"scopes": ["king"]}, "is not one of the available choices"),
        ({"days": "0"}, "1"),
        ({"days": "367"}, "366"),
    ],
)
def test_a_form_that_lacks_something(signed_in, typed, words):
    answer = signed_in.post(reverse("api:token-new"), {"name": "Clock", "scopes": ["read"], "days": "9"} | typed)
    assert answer.status_code == 200 and not Token.objects.exists()
    assert words in text_of(answer) or words == "is not one of the available choices"


def test_never_more_than_its_person_may_at_the_moment_of_use(organisation):
    user = planner(organisation)
    MembershipFactory(organisation=organisation, user__first_name="Odile")
    program = Program(make(organisation, user, "read", "prices"))
    assert program.get("/offers").status_code == 200
    row = Membership.objects.get(user=user)
    row.without = [Act.COSTS]
    row.save()
    refused = program.get("/offers")
    assert refused.status_code == 403 and "may see prices, costs and wages: ask" in refused.json()["detail"]
    assert "ask Odile" in refused.json()["detail"]
    assert program.get("/token").json()["may"] == ["read"]


def test_never_more_than_its_scopes(organisation, user):
    program = Program(make(organisation, user, "read"))
    refused = program.get("/offers")
    assert refused.status_code == 403
    assert refused.json()["detail"] == "This token may not see prices and costs. Make one that may."
    assert program.get("/houses").status_code == 200


def test_nobody_makes_one_beyond_themselves(organisation):
    user = planner(organisation, without=["stock"])
    make_one = {"organisation": organisation, "user": user, "name": "Clock"}
    with pytest.raises(ValidationError, match="You may not count and move stock yourself"):
        tokens.make_token(**make_one, scopes=["read", "stock"])
    crew = MembershipFactory(organisation=organisation, role=Role.CREW).user
    with pytest.raises(NotAllowed):
        tokens.make_token(organisation=organisation, user=crew, name="Clock", scopes=["crew"])
    for _ in range(tokens.MOST):
        tokens.make_token(**make_one, scopes=["read"])
    with pytest.raises(ValidationError, match="let in already"):
        tokens.make_token(**make_one, scopes=["read"])
    # One that is over makes room for another.
    tokens.end_token(organisation=organisation, user=user, token=Token.objects.first())
    tokens.make_token(**make_one, scopes=["read"])


def test_owners_see_and_end_all_others_their_own(signed_in, organisation, user):
    other = planner(organisation)
    make(organisation, user, name="Of the owner")
    make(organisation, other, name="Of Pip")
    make(OrganisationFactory(), user, name="Of elsewhere")
    said = text_of(signed_in.get(reverse("api:tokens")))
    assert "Of the owner" in said and "Of Pip" in said and "Of elsewhere" not in said
    theirs = Client()
    theirs.force_login(other)
    said = text_of(theirs.get(reverse("api:tokens")))
    assert "Of the owner" not in said and "Of Pip" in said
    mine = Token.objects.get(name="Of the owner")
    assert theirs.post(reverse("api:token-end", args=[mine.pk])).status_code == 404
    with pytest.raises(NotAllowed):
        tokens.end_token(organisation=organisation, user=other, token=mine)
    foreign = Token.objects.get(name="Of elsewhere")
    assert signed_in.get(reverse("api:token", args=[foreign.pk])).status_code == 404
    signed_in.post(reverse("api:token-end", args=[Token.objects.get(name="Of Pip").pk]))
    assert Token.objects.get(name="Of Pip").ended_at


class TestWhoLetsNobodyIn:
    def test_one_that_is_over_ended_or_of_somebody_who_left(self, organisation, user):
        leaver = planner(organisation)
        secret = make(organisation, leaver)
        program = Program(secret)
        assert program.get("/token").status_code == 200
        Token.objects.update(made_at=F("made_at") - timedelta(days=99), ends_at=timezone.now())
        assert program.get("/token").status_code == 401
        Token.objects.update(ends_at=timezone.now() + timedelta(days=1))
        assert program.get("/token").status_code == 200
        leaver.is_active = False
        leaver.save()
        assert program.get("/token").status_code == 401, "closed or erased"
        leaver.is_active = True
        leaver.save()
        person = Membership.objects.get(user=leaver)
        people.take_out(organisation=organisation, user=user, person=person)
        assert program.get("/token").status_code == 401
        assert Token.objects.get().ended_at is not None
        Membership.objects.create(organisation=organisation, user=leaver)
        assert program.get("/token").status_code == 401, "who comes back brings no program back"

    def test_no_membership_is_enough_even_where_nobody_told(self, organisation):
        user = planner(organisation)
        program = Program(make(organisation, user))
        Membership.objects.filter(user=user).delete()
        assert program.get("/token").status_code == 401

    @pytest.mark.parametrize("header", ["", "Bearer", "Bearer ", "Bearer fb1_none", "Basic b2RpbGU6eA==", "Bearer é"])
    def test_no_token_or_a_wrong_one(self, organisation, header):
        answer = Client(headers={"Authorization": header}).get("/api/1/houses")
        assert answer.status_code == 401 and answer["WWW-Authenticate"].startswith("Bearer ")
        assert answer["Content-Type"] == "application/problem+json"

    def test_a_sign_in_of_a_browser(self, signed_in, organisation):
        for path in ("/api/1/houses", f"/of/{organisation.slug}/api/1/houses"):
            answer = plain(signed_in).get(path)
            assert answer.status_code in (401, 404), path
            assert "Set-Cookie" not in answer.headers


def test_so_many_a_minute(organisation, user, settings, monkeypatch):
    settings.API_A_MINUTE = 2
    now = timezone.now().replace(second=50)
    monkeypatch.setattr(timezone, "now", lambda: now)
    program, other = Program(make(organisation, user)), Program(make(organisation, user))
    assert [program.get("/token").status_code for _ in range(3)] == [200, 200, 429]
    refused = program.get("/token")
    assert refused["Retry-After"] == "10" and "2 times a minute" in refused.json()["detail"]
    assert other.get("/token").status_code == 200
    now += timedelta(seconds=10)
    assert program.get("/token").status_code == 200


def test_the_log_tells_the_name_and_not_the_token(organisation, user, caplog):
    from farmbuild.common.telling.lines import JsonLines, WithRequest

    secret = make(organisation, user, "read", name="Greenhouse clock")
    lines = []
    caplog.handler.addFilter(WithRequest())
    caplog.set_level("INFO", logger="farmbuild.api")
    Program(secret).get("/offers")
    lines = [JsonLines().format(record) for record in caplog.records if record.name.startswith("farmbuild.api")]
    assert lines and all('"program": "Greenhouse clock"' in line for line in lines)
    assert not any(secret in line for line in lines)
