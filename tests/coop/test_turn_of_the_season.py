"""The night in which a season turns, typed on pages: bookings, free days, charges, statements and who goes first.

The cooperative is in Auckland, whose day begins half a day before that of Greenwich; its season begins on 1 July.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.coop.law import faults_of
from farmbuild.coop.models import MemberEntry
from farmbuild.crew.models import BenderBooking
from tests.factories import BenderFactory, MemberFactory, MembershipFactory, MemberSignInFactory, OrganisationFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D = Decimal
ZONE = ZoneInfo("Pacific/Auckland")
LAST_SEASON = "?first=2025-07-01&last=2026-06-30"
RULES = {
    "season_month": 7,
    "season_day": 1,
    "last_season_percent": 10,
    "together": "True",
    "most_days_open": "",
    "days_a_week_sooner": 0,
}


class Coop:
    """Pages of a manager and of two members, by a clock that is set."""

    def __init__(self, monkeypatch) -> None:
        self.monkeypatch = monkeypatch
        self.clients: dict[object, Client] = {}
        self.at(6, 1)
        self.organisation = OrganisationFactory(time_zone=str(ZONE), currency="USD")
        self.alder, self.birch = (
            MemberFactory(organisation=self.organisation, name=name, slug=name.lower()) for name in ("Alder", "Birch")
        )
        self.west, self.east = (BenderFactory(organisation=self.organisation, name=name) for name in ("West", "East"))
        self.user = MembershipFactory(organisation=self.organisation).user
        self.visitors = {row: MemberSignInFactory(member=row).user for row in (self.alder, self.birch)}

    def at(self, month: int, day: int, hour: int = 9, minute: int = 0) -> None:
        now = datetime(2026, month, day, hour, minute, tzinfo=ZONE)
        self.monkeypatch.setattr(timezone, "now", lambda: now)
        # Nobody stays signed in for weeks.
        self.clients.clear()

    def client(self, member=None) -> Client:
        if member not in self.clients:
            self.clients[member] = Client()
            self.clients[member].force_login(self.visitors[member] if member else self.user)
        return self.clients[member]

    def see(self, name: str, *args, query: str = "", by=None) -> str:
        answer = self.client(by).get(reverse(name, args=args) + query)
        return re.sub("[\u00a0\u202f]", " ", text_of(answer))

    def send(self, name: str, *args, by=None, done: bool = True, **data) -> str:
        answer = self.client(by).post(reverse(name, args=args), data, follow=True)
        told = re.sub("[\u00a0\u202f]", " ", text_of(answer))
        assert (answer.status_code, bool(answer.redirect_chain)) == (200, done), told
        return told

    def lend(self, bender, member, first: date, last: date) -> BenderBooking:
        """Booked and fetched on the day on which the clock stands."""
        self.send("crew:booking-new", bender=bender.pk, member=member.pk, first=first, last=last)
        booking = BenderBooking.objects.get(bender=bender, first=first)
        self.send("crew:booking", booking.pk, condition="sound")
        return booking

    def back(self, booking) -> None:
        self.send("crew:booking", booking.pk, condition="sound")

    def proposed(self) -> str:
        return self.client().get(reverse("coop:charges")).context["proposed"].seen

    def owes(self, member) -> list[tuple[date, Decimal]]:
        return list(MemberEntry.objects.filter(member=member).order_by("pk").values_list("day", "amount"))


@pytest.fixture
def coop(monkeypatch):
    return Coop(monkeypatch)


def june(day: int) -> date:
    return date(2026, 6, day)


def july(day: int) -> date:
    return date(2026, 7, day)


def test_what_is_out_charged_and_sent_while_the_season_turns(coop):
    coop.send("crew:sharing-rules", **RULES)
    coop.send("coop:charge-rate-new", kind="day", each="10", since=date(2026, 1, 1))
    coop.send("coop:charge-rate-new", kind="day", each="12", since=july(1))
    coop.send("coop:free-days", days="1", since=date(2026, 1, 1))
    first = coop.lend(coop.west, coop.alder, june(1), june(5))
    coop.at(6, 5, 17)
    coop.back(first)
    coop.at(6, 28)
    second = coop.lend(coop.west, coop.alder, june(28), june(30))
    coop.at(6, 29)
    over = coop.lend(coop.east, coop.birch, june(29), july(2))
    # Still 30 June there for half an hour; in Greenwich it is noon.
    coop.at(6, 30, 23, 30)
    coop.back(second)
    # Five days of which one is free, and three at the same price.
    assert "2 charges to post, $70.00 in all." in coop.see("coop:charges")
    last_evening = coop.proposed()
    for member in (coop.alder, coop.birch):
        coop.send(
            "crew:own-ask",
            coop.organisation.slug,
            by=member,
            bender=coop.west.pk,
            days=2,
            earliest=july(10),
            need_by=july(11),
        )
    assert "Birch goes before Alder" in plain_words(coop.see("crew:proposal"))

    # Pressed half an hour later, in the new season: what was shown is what is posted, of the day on which it came back.
    coop.at(7, 1, 0, 10)
    assert "The charges are posted." in coop.send("coop:charges-post", seen=last_evening)
    assert coop.owes(coop.alder) == [(june(5), D(40)), (june(30), D(30))]
    told = coop.send("coop:statement-send", "alder", last=june(30))
    assert "S-0001 is numbered and stays as it is." in told
    # All of the season in which it was first charged.
    assert "1 July 2025 to 30 June 2026" in coop.see("coop:statement", 1)
    assert "To pay, $70.00" in coop.see("coop:statement", 1)
    paper = coop.client().get(reverse("coop:statement-pdf", args=[1])).content
    # Its own account of this season begins with what the statement ended with.
    account = coop.see("coop:seen-account", coop.organisation.slug, by=coop.alder)
    assert "Balance of statement S-0001" in account and "$70.00" in account

    coop.at(7, 2, 7)
    coop.back(over)
    # 29 June free as the first of its season and 30 June at 10; 1 July free as the first of the next, 2 July at 12.
    shown = coop.see("coop:charges")
    assert "1 charge to post, $22.00 in all." in shown
    coop.send("coop:charges-post", seen=coop.proposed())
    assert coop.owes(coop.birch) == [(july(2), D(22))]
    # Alder had 8 days of last season, of which a tenth counts; Birch two of it and two of this one.
    assert "Alder goes before Birch" in plain_words(coop.see("crew:proposal"))
    assert "Birch owes nothing on 30 June 2026." in coop.see("coop:account", "birch", query=LAST_SEASON)

    # The statement of last season is looked at and sent again in the next one, with a correction of its days since.
    coop.at(7, 20)
    entry = MemberEntry.objects.get(day=june(30))
    coop.send("coop:entry", entry.pk, reason="it was two days")
    assert "To pay, $70.00" in coop.see("coop:statement", 1)
    assert coop.client().get(reverse("coop:statement-pdf", args=[1])).content == paper
    again = coop.send("coop:statement-send", "alder", done=False, last=june(30))
    assert "S-0001 went out for these days already, up to 30 June 2026" in again
    coop.send("coop:statement-send", "alder", last=july(20))
    following = coop.see("coop:statement", 2)
    assert "Balance of statement S-0001" in following and "To pay, $40.00" in following
    assert "Taken back: 3 days at $10.00: West" in following
    # The books of last season have what was taken back of its days since; what went out of it stays as it was.
    assert "Members owe $62.00" in coop.see("coop:accounts")
    before = coop.see("coop:accounts", query=LAST_SEASON)
    assert "Members owe $40.00" in before
    assert [*faults_of(organisation=coop.organisation)] == []


def plain_words(text: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", "", text).split())
