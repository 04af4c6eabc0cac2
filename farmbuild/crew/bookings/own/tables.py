"""Tables of one member's own bookings and requests."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from farmbuild.crew.bookings.tables import BookingTable, RequestTable


class OwnBookingTable(BookingTable):
    class Meta(BookingTable.Meta):
        exclude = ("who",)

    def row_link(self, record: Any) -> str:
        return reverse("crew:own-booking", args=[self.organisation.slug, record.pk])


class OwnRequestTable(RequestTable):
    class Meta(RequestTable.Meta):
        exclude = ("member",)

    def row_link(self, record: Any) -> str:
        return reverse("crew:own-request", args=[self.organisation.slug, record.pk])
