"""Tables of one member's own bookings and requests."""

from __future__ import annotations

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.bookings.tables import what
from farmbuild.crew.models import BenderBooking, BenderRequest


class OwnBookingTable(FarmTable):
    row_link = lambda record: reverse("crew:own-booking", args=[record.pk])  # noqa: E731

    bender = tables.Column("Bender", order_by=("bender__name", "first"))
    first = DayColumn("From")
    last = DayColumn("To, included")
    state = tables.Column("State")

    class Meta:
        model = BenderBooking
        fields = ("bender", "first", "last", "state")


class OwnRequestTable(FarmTable):
    row_link = lambda record: reverse("crew:own-request", args=[record.pk])  # noqa: E731

    what = tables.Column("Bender", accessor="pk", orderable=False)
    days = QuantityColumn(verbose_name="Days")
    earliest = DayColumn("From, at the earliest")
    need_by = DayColumn("Back by, at the latest")
    state = tables.Column("State")

    class Meta:
        model = BenderRequest
        fields = ("what", "days", "earliest", "need_by", "state")

    def render_what(self, record: BenderRequest) -> str:
        return what(record)
