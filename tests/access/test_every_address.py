"""Every address, read or sent to, by everybody who may come to it: let through, told who may, or not found."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

import pytest
from django.http import HttpResponse, HttpResponseNotFound
from django.test import Client
from django.urls import reverse

from farmbuild import urls
from farmbuild.orgs import gatekeeper
from farmbuild.orgs.acts import READY_SETS, Act, Role
from farmbuild.orgs.gates import FREE, GATES, PRICED, lets
from farmbuild.orgs.models import User
from farmbuild.orgs.visitors import LANDINGS, PAGES, READ_BY_ALL
from tests.access.people import ALONE, KINDS, NOBODY, STRANGER, VISITOR, people_of
from tests.access.stub import THROUGH, with_stub
from tests.crew.bookings.test_visitors import every_address
from tests.reading import text_of
from tests.signing_in import keeper_of_the_server
from tests.size import LONG

pytestmark = pytest.mark.django_db

METHODS = ("GET", "POST")
#: What has no organisation on it; the rest of FREE is of whoever has signed in.
WITHOUT_SIGNING_IN = (
    READ_BY_ALL
    | {"sign-in", "set-password", "orgs:set-up", "crew:calendar"}
    | {"sign-in-code", "forgotten", "access:join", "access:join-code", "access:join-link"}
    | {"access:weekly-end"}
    # What a customer was sent.
    | {"quotes:offered", "quotes:offered-pdf"}
)


def site() -> list[tuple[str, str]]:
    return [(name, address) for name, address in every_address() if not name.startswith("admin:")]


def asked_by(who: str) -> Iterator[tuple[tuple[str, str], str]]:
    """((name, method), address): each is read by every second of them and sent to by the others.

    Both by nobody and by visitors, by whoever the tables answer otherwise, and by all in the long run. What an owner
    alone may, the two owners do one each.
    """
    for at, (name, address) in enumerate(site(), KINDS.index(who) + (who == STRANGER)):
        same = expected(who, name, "GET") == expected(who, name, "POST")
        for method in [METHODS[at % 2]] if same and not LONG and who not in (NOBODY, VISITOR) else METHODS:
            yield (name, method), address


def expected(who: str, name: str, method: str) -> int | None:
    """By the tables of acts, of visitors, and of what needs no organisation."""
    if who == NOBODY:
        return THROUGH if name in WITHOUT_SIGNING_IN else 302
    if who == VISITOR:
        if name in LANDINGS and method == "GET":
            return 302
        return THROUGH if name in PAGES | READ_BY_ALL else 404
    if who == ALONE:
        # What is of no organisation may be theirs, such as their password; what is of one is not.
        return None if name in FREE else 403
    acts = READY_SETS[Role.OWNER if who == STRANGER else Role(who)]
    return THROUGH if lets(name, acts, method) else 403


@pytest.fixture
def clients(organisation, settings, monkeypatch):
    """Behind the gates stands no page, and a refusal is not drawn."""
    monkeypatch.setattr(gatekeeper, "render", lambda request, template, context, status: HttpResponse(status=status))
    monkeypatch.setattr(urls, "handler404", lambda request, exception: HttpResponseNotFound(), raising=False)
    settings.MIDDLEWARE = with_stub(settings.MIDDLEWARE)
    found = {}
    for who, user in people_of(organisation).items():
        found[who] = Client()
        if user:
            found[who].force_login(user)
    return found


def test_every_address_has_its_line_and_no_line_is_of_no_address():
    names = {name for name, _ in site()}
    assert names - set(GATES) - FREE == set(), "say in orgs/gates.py who opens it"
    assert set(GATES) | FREE == names
    assert not FREE & set(GATES)
    assert set(GATES) >= PRICED


def test_each_way_is_gone_by_somebody_who_may_and_by_somebody_who_may_not():
    def answers(who: str, ways: Iterable[tuple[str, str]]) -> set[tuple[tuple[str, str], bool]]:
        return {(way, expected(who, *way) == THROUGH) for way in ways if expected(who, *way) is not None}

    ways = [(name, method) for name, _ in site() for method in METHODS]
    could = {found for who in KINDS for found in answers(who, ways)}
    tried = {found for who in KINDS for found in answers(who, (way for way, _ in asked_by(who)))}
    assert len(could) > 2000
    missing = could - tried
    assert not missing, missing


@pytest.mark.parametrize("who", KINDS)
def test_who_is_let_through(clients, who):
    asked = dict(asked_by(who))
    answers = {(name, method): expected(who, name, method) for name, method in asked}
    assert len(answers) > (800 if LONG else 400)
    found = {key: clients[who].generic(key[1], address).status_code for key, address in asked.items()}
    wrong = {key: (found[key], answers[key]) for key in answers if answers[key] not in (None, found[key])}
    assert not wrong


def test_each_role_is_refused_something_that_the_next_wider_one_may():
    """Else the table above would say nothing."""
    opened = {role: {name for name in GATES if lets(name, READY_SETS[role], "GET")} for role in Role}
    assert opened[Role.CREW] - opened[Role.LOOKS] and opened[Role.LOOKS] < opened[Role.YARD]
    assert opened[Role.CREW] < opened[Role.YARD]
    assert opened[Role.YARD] < opened[Role.PLANNER] | {"orgs:who-may"} < opened[Role.OWNER] | {"orgs:who-may"}
    assert opened[Role.OWNER] == set(GATES)


def test_the_administration_is_for_the_keeper_of_the_server(client, user, organisation):
    client.force_login(user)
    assert client.get("/admin/").status_code == 403
    user.is_staff = True
    user.save()
    assert client.get("/admin/").status_code == 403
    user.is_superuser = True
    user.save()
    answer = client.get("/admin/", follow=True)
    assert answer.redirect_chain[0][0] == reverse("access:step-on")
    assert "The administration opens once your sign-in has a second step." in text_of(answer)
    assert client.post("/admin/orgs/user/add/", {"username": "eve"}).status_code == 302
    assert not User.objects.filter(username="eve").exists()
    client.force_login(keeper_of_the_server())
    assert client.get("/admin/").status_code == 200


def test_a_page_that_asks_for_prices_too(clients, organisation):
    """A planner from whom costs were taken away opens no form that has prices in its boxes."""
    row = organisation.memberships.get(role=Role.PLANNER)
    assert clients[Role.PLANNER].get("/suppliers/new/").status_code == THROUGH
    row.without = [Act.COSTS]
    row.save()
    assert clients[Role.PLANNER].get("/suppliers/new/").status_code == 403
    assert clients[Role.PLANNER].get("/plans/new/").status_code == THROUGH


class TestRefusals:
    @pytest.fixture
    def crew(self, organisation):
        client = Client()
        client.force_login(people_of(organisation)[Role.CREW])
        return client

    def test_a_page_says_who_may_and_leads_back(self, crew):
        answer = crew.get(reverse("plans:new"))
        said = text_of(answer)
        assert answer.status_code == 403
        assert "may plan work, crews and purchases: ask Owner or Planner" in said
        assert re.search(r'<a class="action" href="[^"]*/crew/day/"', answer.content.decode())

    def test_a_form_is_refused_the_same_and_does_nothing(self, crew, organisation):
        answer = crew.post(reverse("sites:site-new"), {"name": "Far Field"})
        assert answer.status_code == 403
        assert "change houses and recipes: ask Owner or Planner" in text_of(answer)

    def test_a_press_of_a_phone_is_answered_in_its_form(self, organisation):
        """The script of the day list shows the words of a 422; at a 403 it asks to sign in."""
        looks = Client()
        looks.force_login(people_of(organisation)[Role.LOOKS])
        answer = looks.post(reverse("crew:day-tick", args=[1]), {"key": "k-1"}, headers={"accept": "application/json"})
        assert answer.status_code == 422
        said = answer.json()
        assert (said["key"], said["kept"], said["fields"]) == ("k-1", False, {})
        assert "may record work" in said["problem"]
        assert looks.get(reverse("plans:new"), headers={"accept": "application/json"}).status_code == 403


@pytest.mark.parametrize(
    ("role", "first"),
    [
        (Role.OWNER, "/houses/"),
        (Role.PLANNER, "/houses/"),
        (Role.LOOKS, "/houses/"),
        (Role.YARD, "/stock/"),
        (Role.CREW, "/crew/day/"),
    ],
)
def test_signing_in_leads_to_what_is_ones_work(client, organisation, role, first):
    client.force_login(people_of(organisation)[role])
    answer = client.get("/", follow=True)
    assert answer.status_code == 200
    assert answer.redirect_chain[-1][0].endswith(first)


def test_what_everybody_may_is_there_to_read(client, organisation):
    people = people_of(organisation)
    client.force_login(people[Role.CREW])
    said = text_of(client.get(reverse("orgs:who-may")))
    for act in Act:
        assert act.words.capitalize() in said
    assert "Record work" in said and "Owner, Planner, Yard and Crew" in said
