"""What is left after a season, and which offcuts could go."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.seasonend.bridge import Serving
from farmbuild.sites.models import House
from farmbuild.sites.selectors import houses_of
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.piles.selectors import Piled, materials_piled, piled
from farmbuild.stock.selectors import Heap, heaps_of, own_lots_on_hand
from farmbuild.stock.values import amount_of, coins_of, value_of, worth_of

#: Offcuts proposed at once; when these are gone the rest comes.
MAX_PROPOSED = 200
#: Houses planned together while a page waits; more take a plan of their own.
MAX_HOUSES = 40


def next_houses(*, organisation: Organisation, day: date) -> QuerySet[House]:
    """Houses that are needed after ``day``, the first needed first."""
    return houses_of(organisation=organisation).filter(need_date__gt=day).order_by("need_date", "pk")


def houses_to_tick(*, organisation: Organisation, day: date) -> QuerySet[House]:
    """Of ``next_houses`` as many as an address holds: one more than can be worked out shows that they are too many."""
    return next_houses(organisation=organisation, day=day)[: MAX_HOUSES + 1]


def left_after(*, organisation: Organisation, day: date, houses: Iterable[House] = ()) -> QuerySet[Lot]:
    """Lots with ``left`` pieces and what they are ``worth``: on hand less what houses hold that are needed by ``day``.

    ``houses`` are next season's whatever their day, so what they hold is left.
    """
    held = Reservation.objects.filter(lot=OuterRef("pk"), need_by__lte=day).order_by().values("lot")
    if late := [house.pk for house in houses if house.need_date <= day]:
        held = held.exclude(house__in=late)
    return (
        own_lots_on_hand(organisation=organisation)
        .annotate(left=F("on_hand") - Coalesce(Subquery(held.annotate(sum=Sum("quantity")).values("sum")), Value(0)))
        .filter(left__gt=0)
        .annotate(worth=value_of("left", organisation=organisation))
        .order_by("material__name", "material__code", "offcut", "length", "place__name", "reference")
    )


def left_totals(rows: QuerySet[Lot], *, organisation: Organisation) -> dict[str, Any]:
    """``lots``, ``pieces``, ``worth``, and whether they are ``alike`` so that pieces may be added, by one query."""
    sums = rows.order_by().aggregate(
        lots=Count("pk"),
        pieces=Coalesce(Sum("left"), Value(0)),
        coins=Sum(coins_of("left", organisation=organisation)),
        kinds=Count("material__kind", distinct=True),
        cut=Count("pk", filter=Q(offcut=True)),
    )
    alike = sums["kinds"] <= 1 and sums["cut"] in (0, sums["lots"])
    return sums | {"worth": amount_of(sums["coins"], organisation=organisation), "alike": alike}


@dataclass(frozen=True)
class LeftHeaps:
    """What is left of every material, and the ``materials`` in the order in which they are drawn."""

    heaps: Sequence[Heap]
    materials: Sequence[Material]


def left_heaps(rows: QuerySet[Lot], *, organisation: Organisation) -> LeftHeaps:
    materials = list(materials_of(organisation=organisation))
    heaps = heaps_of(rows, materials=materials, organisation=organisation, pieces="left")
    return LeftHeaps(heaps, materials_piled(heaps, (), materials))


def left_piles(rows: QuerySet[Lot], *, heaps: LeftHeaps, materials: Sequence[Material]) -> list[Piled]:
    """Filled is what houses hold that are needed later."""
    return piled(rows, heaps=heaps.heaps, materials=materials, pieces="left")


def lots_for_nobody(totals: Mapping[str, Any], serving: Mapping[str, Serving]) -> int:
    """Lots of ``left_totals`` that serve no house."""
    return totals["lots"] - len(serving)


@dataclass(frozen=True)
class Spare:
    """Pieces of an offcut lot that nobody holds and no next house would use."""

    lot: Lot
    pieces: int
    value: Decimal
    length: Decimal

    @property
    def take(self) -> str:
        """As a page sends it back."""
        return f"{self.lot.pk}:{self.pieces}"


@dataclass(frozen=True)
class GivenUp:
    """What goes when all these go. ``length`` is that of the pieces end to end, in mm."""

    pieces: int
    value: Decimal
    length: Decimal


def spare_of(lot: Lot, pieces: int) -> Spare:
    """``lot`` has its organisation loaded."""
    return Spare(
        lot, pieces, worth_of(lot, organisation=lot.organisation, pieces=pieces), (lot.length or Decimal(0)) * pieces
    )


def given_up(spares: Iterable[Spare]) -> GivenUp:
    rows = list(spares)
    return GivenUp(
        sum(row.pieces for row in rows),
        sum((row.value for row in rows), Decimal(0)),
        sum((row.length for row in rows), Decimal(0)),
    )


def short_offcuts(
    *, organisation: Organisation, below: Decimal, serving: Mapping[str, Serving]
) -> tuple[list[Spare], int]:
    """Offcuts shorter than ``below`` mm that could go, the most valuable lot first, and how many more there are.

    Held pieces are left out, and those that a next house would use.
    """
    lots = own_lots_on_hand(organisation=organisation).filter(
        offcut=True, length__lt=below, on_hand__gt=F("reserved") + F("promised")
    )
    spares = []
    for lot in lots.order_by():
        lot.organisation = organisation
        pieces = lot.free
        if used := serving.get(lot.reference):
            pieces = min(pieces, used.there - used.sticks)
        if pieces > 0:
            spares.append(spare_of(lot, pieces))
    spares.sort(key=lambda row: (-row.value, row.length / row.pieces, row.lot.reference))
    return spares[:MAX_PROPOSED], max(0, len(spares) - MAX_PROPOSED)


def spares_asked(*, organisation: Organisation, takes: Sequence[tuple[int, int]]) -> list[Spare]:
    """Those of ``takes`` (lot key, pieces) that are offcuts of the organisation, in the order asked."""
    lots = own_lots_on_hand(organisation=organisation).filter(offcut=True).in_bulk([pk for pk, _ in takes])
    for lot in lots.values():
        lot.organisation = organisation
    return [spare_of(lots[pk], pieces) for pk, pieces in takes if pk in lots]
