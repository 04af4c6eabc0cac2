"""Tables of bookings, requests and members."""

from __future__ import annotations

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.bookings.words import who
from farmbuild.crew.models import BenderBooking, BenderRequest, Member


class BookingTable(FarmTable):
    row_link = lambda record: reverse("crew:booking", args=[record.pk])  # noqa: E731

    bender = tables.Column("Bender", order_by=("bender__name", "first"))
    who = tables.Column("For", accessor="pk", order_by=("member__name", "first"))
    first = DayColumn("From")
    last = DayColumn("To, included")
    state = tables.Column("State")

    class Meta:
        model = BenderBooking
        fields = ("bender", "who", "first", "last", "state")

    def render_who(self, record: BenderBooking) -> str:
        return who(record)


class RequestTable(FarmTable):
    row_link = lambda record: reverse("crew:request", args=[record.pk])  # noqa: E731

    member = tables.Column("Member", order_by=("member__name", "need_by"))
    what = tables.Column("Bender", accessor="pk", orderable=False)
    days = QuantityColumn(verbose_name="Days")
    earliest = DayColumn("From, at the earliest")
    need_by = DayColumn("Back by, at the latest")
    state = tables.Column("State")

    class Meta:
        model = BenderRequest
        fields = ("member", "what", "days", "earliest", "need_by", "state")

    def render_what(self, record: BenderRequest) -> str:
        return what(record)


class MemberTable(FarmTable):
    row_link = lambda record: reverse("crew:member", args=[record.slug])  # noqa: E731

    name = tables.Column("Member")
    contact = tables.Column("Contact", default="not written down", orderable=False)
    open_requests = QuantityColumn(verbose_name="Open requests")
    open_bookings = QuantityColumn(verbose_name="Booked or out")

    class Meta:
        model = Member
        fields = ("name", "contact", "open_requests", "open_bookings")


def what(record: BenderRequest) -> str:
    """Which bender is asked for."""
    if record.bender:
        return record.bender.name
    return f"any that bends {record.tube.name}" if record.tube else "any"
