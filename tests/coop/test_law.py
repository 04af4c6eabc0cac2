"""Through random work members' accounts are what they were posted for, to the coin, in coins of three sizes."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from random import Random

import pytest
from django.core.exceptions import ValidationError
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from farmbuild.coop.charges import services as charges
from farmbuild.coop.charges.proposals import proposed_charges
from farmbuild.coop.law import faults_of
from farmbuild.coop.models import Damage, MemberEntry
from farmbuild.coop.statement.selectors import balances_of, statements_of
from farmbuild.coop.statement.services import send_statement
from farmbuild.coop.statement.taking_back import take_back
from farmbuild.crew.models import BenderBooking
from farmbuild.measure import places
from tests.coop.making import Cooperative
from tests.factories import MembershipFactory, OrganisationFactory
from tests.size import sized

D = Decimal
BEGINS = date(2026, 3, 1)
KINDS = ("day", "pull", "late-day", "late")
WORK = ("price", "free", "return", "return", "return", "post", "post", "damage", "answer", "pay", "back", "send")


class Year:
    """A cooperative whose work is drawn from ``chance``; ``books`` are kept beside it, by member, in plain Python."""

    def __init__(self, currency: str, chance: Random) -> None:
        membership = MembershipFactory(organisation=OrganisationFactory(currency=currency))
        self.coop = Cooperative(membership.organisation, membership.user)
        self.members = [self.coop.alder, self.coop.birch]
        self.chance, self.day = chance, BEGINS
        self.coin = D(1).scaleb(-places(currency))
        self.books = {member.pk: D(0) for member in self.members}
        self.refused = 0

    def money(self, most: int) -> D:
        return self.chance.randint(1, most) * self.coin

    def book(self, entries) -> None:
        for entry in entries:
            self.books[entry.member_id] += entry.amount

    def price(self) -> None:
        # Up to four places: finer than the coins.
        each = D(self.chance.randint(0, 200_000)) / 10_000
        bender = self.chance.choice([None, self.coop.west])
        self.coop.rate(self.chance.choice(KINDS), each, since=self.day, bender=bender)

    def free(self) -> None:
        self.coop.free(self.chance.randint(0, 4), since=self.day)

    def come_back(self) -> None:
        self.day += timedelta(days=self.chance.randint(1, 9))
        last = self.day + timedelta(days=self.chance.randint(0, 4))
        back = last + timedelta(days=self.chance.choice([0, 0, 0, 2]))
        pulls = self.chance.choice([None, 0, self.chance.randint(1, 90)])
        member = self.chance.choice(self.members)
        self.coop.back(self.day, last, back=back, member=member, pulls=pulls)
        self.day = back

    def post(self) -> None:
        found = proposed_charges(organisation=self.coop.organisation)
        some = [one for one in found if self.chance.random() < 0.8]
        for one in some:
            self.books[one.booking.member_id] += one.amount
        if some:
            charges.post_charges(**self.coop.who, seen=[one.token for one in some])

    def damage(self) -> None:
        booking = self.chance.choice([*BenderBooking.objects.of(self.coop.organisation)])
        row = charges.charge_damage(**self.coop.who, booking=booking, what="roller bent", amount=self.money(9_000))
        self.book([row.entry])

    def answer(self) -> None:
        row = self.chance.choice([*Damage.objects.of(self.coop.organisation)])
        if self.chance.random() < 0.5:
            charges.dispute_for_member(**self.coop.who, damage=row, why="it was so")
        withdraw = self.chance.random() < 0.5
        charges.answer_damage(**self.coop.who, damage=row, withdraw=withdraw, answer="looked at")
        if withdraw:
            self.books[row.entry.member_id] -= row.amount

    def pay(self) -> None:
        member, out = self.chance.choice(self.members), self.chance.random() < 0.2
        amount = self.money(20_000)
        self.coop.pay(member, amount, min(self.day, date(2026, 11, 1)), paid_out=out)
        self.books[member.pk] += amount if out else -amount

    def take_back(self) -> None:
        entry = self.chance.choice([*MemberEntry.objects.of(self.coop.organisation)])
        back = take_back(**self.coop.who, entry=entry, reason="typed wrong")
        self.book([back])

    def send(self) -> None:
        send_statement(**self.coop.who, member=self.chance.choice(self.members), last=self.day)

    def work(self, times: int) -> None:
        acts = {"return": self.come_back, "back": self.take_back}
        self.price()
        self.come_back()
        for _ in range(times):
            name = self.chance.choice(WORK)
            try:
                acts.get(name, getattr(self, name, None))()
            except (ValidationError, IndexError):
                self.refused += 1


class TestRandomWork(TestCase):
    @settings(max_examples=sized(6, 60), deadline=None, suppress_health_check=list(HealthCheck))
    @given(currency=st.sampled_from(["USD", "JPY", "KWD"]), seed=st.integers(0, 10**6))
    def test_statements_balances_and_entries_are_one_sum(self, currency: str, seed: int) -> None:
        year = Year(currency, Random(seed))
        year.work(25)
        organisation = year.coop.organisation
        assert [*faults_of(organisation=organisation)] == []
        owed = {member: amount for member, amount in year.books.items() if amount}
        found = balances_of(organisation=organisation)
        assert {member: amount for member, amount in found.items() if amount} == owed
        last = date(2027, 12, 31)
        closing = {
            one.member.pk: one.closing for one in statements_of(organisation=organisation, first=last, last=last)
        }
        assert sum(closing.values()) == sum(owed.values())
        assert all(amount == amount.quantize(year.coin) for amount in closing.values())


def test_the_work_of_a_year_does_all_it_may() -> None:
    """Else the random work would say nothing."""
    assert {*WORK} - {"return", "back"} <= {name for name in dir(Year) if not name.startswith("_")}


@pytest.mark.django_db
def test_a_charge_that_is_not_what_its_days_come_to_is_told(coop):
    from farmbuild.coop.models import BookingCharge

    coop.rate("day", "12")
    booking = coop.back(date(2026, 5, 4), date(2026, 5, 6))
    entry = MemberEntry.objects.create(
        organisation=coop.organisation, member=coop.alder, day=date(2026, 5, 6), kind="days", what="West", amount=30
    )
    line = {"first": "2026-05-04", "last": "2026-05-06", "count": 3, "free": 0, "each": "12", "once": False}
    BookingCharge.objects.create(organisation=coop.organisation, entry=entry, booking=booking, lines=[line])
    [told] = faults_of(organisation=coop.organisation)
    assert told.endswith("$30.00 stands in the account, $36.00 is right.")
