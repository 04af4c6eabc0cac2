"""Tables of bookings, requests and members."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.bookings.words import who
from farmbuild.crew.models import BenderBooking, BenderRequest, Member


class BookingTable(FarmTable):
    phone = (("bender", "state"), ("last", "who"))
    phone_words = {"last": "until"}

    bender = tables.Column("Bender", order_by=("bender__name", "first"))
    who = tables.Column("For", accessor="pk", order_by=("member__name", "first"))
    first = DayColumn("From")
    last = DayColumn("To, included")
    state = tables.Column("State")

    class Meta:
        model = BenderBooking
        fields = ("bender", "who", "first", "last", "state")

    def row_link(self, record: Any) -> str:
        return reverse("crew:booking", args=[record.pk])

    def render_who(self, record: BenderBooking) -> str:
        return who(record)


class RequestTable(FarmTable):
    phone = (("member", "state"), ("need_by", "what"))
    phone_words = {"need_by": "Back by"}

    member = tables.Column("Member", order_by=("member__name", "need_by"))
    what = tables.Column("Bender", accessor="pk", orderable=False)
    days = QuantityColumn(verbose_name="Days")
    earliest = DayColumn("From, at the earliest")
    need_by = DayColumn("Back by, at the latest")
    state = tables.Column("State")

    class Meta:
        model = BenderRequest
        fields = ("member", "what", "days", "earliest", "need_by", "state")

    def row_link(self, record: Any) -> str:
        return reverse("crew:request", args=[record.pk])

    def render_what(self, record: BenderRequest) -> str:
        return what(record)


class MemberTable(FarmTable):
    phone = (("name", "open_bookings"), ("open_requests", "contact"))

    name = tables.Column("Member")
    contact = tables.Column("Contact", default="not known", orderable=False)
    share = QuantityColumn(verbose_name="Shares")
    open_requests = QuantityColumn(verbose_name="Open requests")
    open_bookings = QuantityColumn(verbose_name="Booked or out")

    class Meta:
        model = Member
        fields = ("name", "contact", "share", "open_requests", "open_bookings")

    def row_link(self, record: Any) -> str:
        return reverse("crew:member", args=[record.slug])


class MemberDaysTable(FarmTable):
    """Of the members that ask (rows of a proposal)."""

    phone = (("member", "after"), ("before", "given"))
    phone_words = {"before": "so far", "after": "with this"}

    member = tables.Column("Member", accessor="member__name")
    share = QuantityColumn(verbose_name="Shares", accessor="member__share")
    season = QuantityColumn(verbose_name="Days this season", accessor="had__days")
    last_season = QuantityColumn(verbose_name="Last season", accessor="had__last_season")
    before = tables.Column("So far")
    asked = QuantityColumn(verbose_name="Days asked for", accessor="days__asked")
    given = QuantityColumn(verbose_name="Days given", accessor="days__given")
    after = tables.Column("With this")

    class Meta(FarmTable.Meta):
        fields = ("member", "share", "season", "last_season", "before", "asked", "given", "after")

    def row_link(self, record: Any) -> str:
        return reverse("crew:member", args=[record.member.slug])


def what(record: BenderRequest) -> str:
    """Which bender is asked for."""
    if record.bender:
        return record.bender.name
    return f"any that bends {record.tube.name}" if record.tube else "any"
