"""Wishes that members type on their pages, shared out on the manager's: whoever never had a bender goes first, asking
twice gains nothing, and a day sooner does not either; each request is told why."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from farmbuild.crew.models import BenderBooking
from farmbuild.orgs.clock import today_of
from tests.factories import BenderBookingFactory, BenderFactory, MemberFactory, MembershipFactory, MemberSignInFactory
from tests.reading import NO_BREAK, text_of

pytestmark = pytest.mark.django_db


class Members:
    """A bender, members who had it for sixty days each this year, and one who never had."""

    def __init__(self, organisation) -> None:
        self.organisation = organisation
        self.bender = BenderFactory(organisation=organisation, name="West")
        self.today = today_of(organisation=organisation)
        self.manager = Client()
        self.manager.force_login(MembershipFactory(organisation=organisation).user)
        self.clients: dict[str, Client] = {}

    def joins(self, name: str, had: int) -> None:
        member = MemberFactory(organisation=self.organisation, name=name)
        if had:
            other = BenderFactory(organisation=self.organisation, name=f"Of {name}")
            # Of this season, whatever day it is today: what is booked to come counts too.
            first = self.today + timedelta(days=100)
            BenderBookingFactory(bender=other, member=member, first=first, last=first + timedelta(days=had - 1))
        self.clients[name] = Client()
        self.clients[name].force_login(MemberSignInFactory(member=member).user)

    def asks(self, name: str, days: int, last: int, first: int = 10) -> None:
        """From the day after so many days on, back by another."""
        data = {
            "bender": self.bender.pk,
            "days": days,
            "earliest": self.today + timedelta(days=first),
            "need_by": self.today + timedelta(days=last),
        }
        address = reverse("crew:own-ask", args=[self.organisation.slug])
        answer = self.clients[name].post(address, data, follow=True)
        assert "Asked. You see here once it is booked." in text_of(answer)

    def shared(self) -> tuple[str, list[str], list[str]]:
        """The page in words, and who is given something and who is not, as it is shown."""
        answer = self.manager.get(reverse("crew:proposal"))
        found = answer.context["proposal"]
        given, rest = ([row.request.member.name for row in rows] for rows in (found.given, found.not_given))
        words = " ".join(re.sub(r"<[^>]*>", "", answer.content.decode()).replace(NO_BREAK, " ").split())
        return words, given, rest

    def book_all(self) -> None:
        found = self.manager.get(reverse("crew:proposal")).context["proposal"]
        self.manager.post(reverse("crew:proposal"), {"wish": [row.key for row in found.given]})

    def own_page(self, name: str) -> str:
        return text_of(self.clients[name].get(reverse("crew:own", args=[self.organisation.slug])))


@pytest.fixture
def members(organisation):
    return Members(organisation)


def test_one_who_never_had_a_bender_and_asks_for_six_days_goes_before_two_who_had_sixty(members):
    for name, had, days in (("Alder", 60, 3), ("Birch", 60, 3), ("Copse", 0, 6)):
        members.joins(name, had)
        members.asks(name, days, last=15)
    words, given, rest = members.shared()
    assert (given, rest) == (["Copse"], ["Alder", "Birch"])
    assert "1 of 3 open requests can be met." in words and "proven to be the best by these rules" in words
    for name in ("Alder", "Birch"):
        assert f"Copse goes before {name}: it had 0 days this season, for 1 share; {name} had 60, for 1 share." in words
    assert words.count("The earliest it could be had: West from") == 2
    members.book_all()
    booked = BenderBooking.objects.get(bender=members.bender)
    assert (booked.member.name, (booked.last - booked.first).days) == ("Copse", 5)
    assert "West" in members.own_page("Copse")
    assert "1 request open" in members.own_page("Alder")


def test_asking_twice_gains_nothing(members):
    for name in ("Alder", "Birch"):
        members.joins(name, 4)
    members.asks("Alder", 3, last=15)
    members.asks("Alder", 3, last=15)
    members.asks("Birch", 3, last=15)
    words, given, rest = members.shared()
    assert (sorted(given), rest) == (["Alder", "Birch"], ["Alder"])
    assert "2 of 3 open requests can be met." in words and "asking twice gains nothing" in words


def test_a_need_that_ends_a_day_sooner_does_not_go_before_one_who_never_had(members):
    members.joins("Alder", 60)
    members.joins("Birch", 0)
    members.asks("Alder", 3, last=12)
    members.asks("Birch", 3, last=13)
    # Three days each, of four: one of them.
    words, given, rest = members.shared()
    assert (given, rest) == (["Birch"], ["Alder"])
    assert "Birch goes before Alder" in words
    # Between two who had as much the day decides.
    members.joins("Copse", 0)
    members.asks("Copse", 3, last=12)
    words, given, rest = members.shared()
    assert (given, sorted(rest)) == (["Copse"], ["Alder", "Birch"])
