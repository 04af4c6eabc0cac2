"""A cooperative with members and bookings that came back."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from farmbuild.coop.charges import services as charges
from farmbuild.coop.charges.proposals import proposed_charges
from farmbuild.coop.charges.rates import set_charge_rate, set_free_days
from farmbuild.coop.models import MemberEntry
from farmbuild.coop.statement.payments import record_payment
from tests.factories import BenderBookingFactory, BenderFactory, MemberFactory

SINCE = date(2026, 1, 1)


class Cooperative:
    """Two members, Alder Patch and Birch Bank, and the bender West."""

    def __init__(self, organisation, user):
        self.organisation = organisation
        self.who = {"organisation": organisation, "user": user}
        self.alder = MemberFactory(organisation=organisation, name="Alder Patch", slug="alder-patch")
        self.birch = MemberFactory(organisation=organisation, name="Birch Bank", slug="birch-bank")
        self.west = BenderFactory(organisation=organisation, name="West")

    def at(self, day: date, hour: int = 8) -> datetime:
        zone = ZoneInfo(self.organisation.time_zone)
        return datetime(day.year, day.month, day.day, hour, tzinfo=zone)

    def rate(self, kind, each, since=SINCE, bender=None):
        return set_charge_rate(**self.who, kind=kind, since=since, each=Decimal(each), bender=bender)

    def free(self, days, since=SINCE):
        return set_free_days(**self.who, since=since, days=days)

    def back(self, first, last, *, back=None, member=None, bender=None, pulls=None, out=None):
        """A booking of Alder, unless told otherwise, that left on its first day and came back."""
        back = back or last
        return BenderBookingFactory(
            bender=bender or self.west,
            member=member or self.alder,
            first=first,
            last=last,
            state="back",
            out_at=self.at(out or first),
            out_condition="sound",
            back_at=self.at(back, 17),
            back_condition="sound",
            pulls=pulls,
        )

    def proposed(self):
        """(kind, amount) by booking key and kind, as they are proposed."""
        return [(str(one.kind), one.amount) for one in proposed_charges(organisation=self.organisation)]

    def post(self):
        seen = [one.token for one in proposed_charges(organisation=self.organisation)]
        return charges.post_charges(**self.who, seen=seen)

    def pay(self, member, amount, day=None, **more):
        day = day or date(2026, 6, 1)
        return record_payment(**self.who, member=member, day=day, amount=Decimal(amount), how="cash", **more)

    def owes(self, member):
        return sum((row.amount for row in MemberEntry.objects.filter(member=member)), Decimal(0))


def may(day: int) -> date:
    return date(2026, 5, day)


def days_after(day: date, count: int) -> date:
    return day + timedelta(days=count)
