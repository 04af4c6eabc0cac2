"""Reads of who holds what is to come."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.db.models import F, Q, QuerySet

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.selectors import ReservationDifference, wrongly_reserved, wrongly_reserved_lots


def reservations_of_lines(lines: Iterable[PurchaseOrderLine]) -> QuerySet[Reservation]:
    return Reservation.objects.filter(order_line__in=lines)


def reservation_differences(*, organisation: Organisation | None = None) -> Iterator[ReservationDifference]:
    """What the recount finds wrong, by two queries; of every organisation without ``organisation``."""
    yield from wrongly_reserved_lots(organisation=organisation)
    lines = PurchaseOrderLine.objects.all()
    if organisation is not None:
        lines = lines.filter(order__organisation=organisation)
    too_many = Q(reserved__gt=0) & (
        Q(closed_at__isnull=False)
        | Q(quantity__lt=F("reserved") + F("arrived") - F("damaged"))
        | Q(order__state="cancelled")
    )
    rows = wrongly_reserved(lines, "order_line", too_many).select_related("order__organisation")
    for line in rows.iterator(2000):
        yield ReservationDifference(line, line.reserved, line.summed, line.to_come)
