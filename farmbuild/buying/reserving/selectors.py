"""Reads of who holds what is to come."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.db.models import F, Q, QuerySet

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.selectors import HoldDifference, held_wrongly, lots_held_wrongly


def held_of_lines(lines: Iterable[PurchaseOrderLine]) -> QuerySet[Reservation]:
    return Reservation.objects.filter(order_line__in=lines)


def hold_differences(*, organisation: Organisation | None = None) -> Iterator[HoldDifference]:
    """What the recount finds wrong, by two queries; of every organisation without ``organisation``."""
    yield from lots_held_wrongly(organisation=organisation)
    lines = PurchaseOrderLine.objects.all()
    if organisation is not None:
        lines = lines.filter(order__organisation=organisation)
    too_many = Q(reserved__gt=0) & (
        Q(closed_at__isnull=False)
        | Q(quantity__lt=F("reserved") + F("arrived") - F("damaged"))
        | Q(order__state="cancelled")
    )
    rows = held_wrongly(lines, "order_line", too_many).select_related("order__organisation")
    for line in rows.iterator(2000):
        yield HoldDifference(line, line.reserved, line.summed, line.to_come)
