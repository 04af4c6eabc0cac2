"""Reads of what houses of plans hold and held."""

from __future__ import annotations

from django.db.models import F, QuerySet, Sum

from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from farmbuild.stock.models import Reservation, UsedHold


def late_pieces(rows: QuerySet[Reservation], *, house: House) -> int:
    """Pieces held on order that come after the house needs them."""
    waiting = rows.filter(lot__isnull=True).prefetch_related(None)
    return sum(row.quantity for row in waiting if row.order_line.due_on > house.need_date)


def used_of_plan(*, plan: Plan) -> dict[str, int]:
    """Pieces by reference of their lot that went to the plan's houses out of what they held by it."""
    used = UsedHold.objects.filter(plan=plan, movement__reversed_by=None).order_by()
    return dict(used.values_list("movement__lot__reference").annotate(sum=Sum(F("quantity") - F("back"))))
