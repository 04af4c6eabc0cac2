"""Tables of one member's own bookings and requests."""

from __future__ import annotations

from django.urls import reverse

from farmbuild.crew.bookings.tables import BookingTable, RequestTable


class OwnBookingTable(BookingTable):
    row_link = lambda record: reverse("crew:own-booking", args=[record.pk])  # noqa: E731

    class Meta(BookingTable.Meta):
        exclude = ("who",)


class OwnRequestTable(RequestTable):
    row_link = lambda record: reverse("crew:own-request", args=[record.pk])  # noqa: E731

    class Meta(RequestTable.Meta):
        exclude = ("member",)
