"""Reads of what houses of plans hold and held."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from decimal import Decimal

from django.db.models import F, QuerySet, Sum

from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from farmbuild.stock.models import Reservation, UsedHold
from farmbuild.stock.reserving.selectors import reservations_of


def reservations_of_plan(*, plan: Plan) -> QuerySet[Reservation]:
    return reservations_of(organisation=plan.organisation).filter(plan=plan)


def held_among(*, organisation: Organisation, houses: Collection[int]) -> list[tuple[str, int, frozenset[str]]]:
    """What these houses (keys) hold in the yard and nobody else has a part of: reference of the lot, pieces, and slugs
    of the houses that hold or get a part of them. Two queries."""
    if not houses:
        return []
    rows = (
        Reservation.objects.of(organisation)
        .filter(house__in=houses, lot__isnull=False)
        .select_related("lot", "house")
        .prefetch_related("pieces__house")
        .order_by("pk")
    )
    sums: Counter[tuple[str, frozenset[str]]] = Counter()
    own = set(houses)
    for row in rows:
        who = {row.house, *(piece.house for piece in row.pieces.all())}
        if {house.pk for house in who} <= own:
            sums[row.lot.reference, frozenset(house.slug for house in who)] += row.quantity
    return [(lot, pieces, slugs) for (lot, slugs), pieces in sums.items()]


def late_pieces(rows: QuerySet[Reservation], *, house: House) -> int:
    """Pieces held on order that come after the house needs them."""
    waiting = rows.filter(lot__isnull=True).prefetch_related(None)
    return sum(row.quantity for row in waiting if row.order_line.due_on > house.need_date)


def used_of_plan(*, plan: Plan) -> dict[str, int]:
    """Pieces by reference of their lot that went to the plan's houses out of what they held by it."""
    used = UsedHold.objects.filter(plan=plan, movement__reversed_by=None).order_by()
    return dict(used.values_list("movement__lot__reference").annotate(sum=Sum(F("quantity") - F("back"))))


def used_in_houses(*, plan: Plan) -> Counter[tuple[str, str]]:
    """What the plan's houses were given at most of what they held by it: lengths in mm, or counts, by slug of the
    house and code of the material. A stick that was cut and whose pieces were then issued counts at both."""
    used: Counter[tuple[str, str]] = Counter()
    rows = UsedHold.objects.filter(plan=plan, movement__reversed_by=None).order_by()
    slugs = dict(House.objects.filter(plans=plan).order_by().values_list("pk", "slug"))
    of_lot = ("movement__lot__length", "movement__lot__material__code")
    for own, quantity, back, pieces, size, code in rows.values_list("house", "quantity", "back", "pieces", *of_lot):
        for house, _, length, each in pieces or [[own, "", size or 1, 1]]:
            if house in slugs:
                used[slugs[house], code] += Decimal(length) * each * (quantity - back)
    return used
