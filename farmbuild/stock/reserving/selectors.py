"""Reads of who holds what."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, F, Min, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.stock.models import HeldPiece, Lot, Reservation
from farmbuild.stock.words import things_in_words


def reservations_of(*, organisation: Organisation) -> QuerySet[Reservation]:
    """Everything held, the first needed first, with what it is of, for whom, and what it is cut into."""
    return (
        Reservation.objects.of(organisation)
        .select_related(
            "plan",
            "house",
            "lot__material",
            "lot__place",
            "order_line__material",
            "order_line__order",
            "order_line__delivery_site",
        )
        .defer("plan__inputs", "plan__result")
        .prefetch_related("pieces__house")
        .order_by("need_by", "pk")
    )


def reservations_of_lot(*, lot: Lot) -> QuerySet[Reservation]:
    return reservations_of(organisation=lot.organisation).filter(lot=lot)


def own_reservations_of(*, house: House) -> QuerySet[Reservation]:
    """What the house holds itself."""
    return reservations_of(organisation=house.organisation).filter(house=house)


def reservations_for_house(*, house: House) -> QuerySet[Reservation]:
    """What the house holds itself, and sticks of other houses that it gets pieces of."""
    pieces = HeldPiece.objects.filter(reservation=OuterRef("pk"), house=house)
    return reservations_of(organisation=house.organisation).filter(Q(house=house) | Exists(pieces))


def houses_with_reservations(*, houses: Collection[House]) -> QuerySet[House]:
    """Those of the houses that hold something, or get pieces of what another one holds."""
    own = Reservation.objects.filter(house=OuterRef("pk"))
    pieces = HeldPiece.objects.filter(house=OuterRef("pk"))
    return House.objects.filter(Exists(own) | Exists(pieces), pk__in=[house.pk for house in houses])


def reserved_by_others(*, organisation: Organisation, houses: Collection[int]) -> tuple[dict[int, int], dict[int, int]]:
    """Pieces by lot, and by order line, that houses other than ``houses`` hold or get a part of."""
    by_lot, by_line = (_by_others(organisation.pk, list(houses), ordered) for ordered in (False, True))
    return dict(by_lot), dict(by_line)


@compiled_once
def _by_others(organisation: int, houses: Sequence[int], ordered: bool) -> QuerySet[Reservation]:
    part = HeldPiece.objects.filter(reservation=OuterRef("pk")).exclude(house__in=houses)
    rows = Reservation.objects.filter(organisation_id=organisation).filter(~Q(house__in=houses) | Exists(part))
    what = "order_line" if ordered else "lot"
    return rows.order_by().exclude(**{what: None}).values_list(what).annotate(sum=Sum("quantity"))


def reserved_sums(rows: QuerySet[Reservation]) -> dict[str, Any]:
    """``houses`` and the ``first`` need date; ``yard`` and ``coming`` are what is held, in words: sticks are not added
    to screws. Two queries."""
    rows = rows.select_related(None).order_by()
    of_kinds = list(
        rows.annotate(kind=Coalesce("lot__material__kind", "order_line__material__kind"), here=Q(lot__isnull=False))
        .values_list("here", "kind", "lot__offcut")
        .annotate(sum=Sum("quantity"))
        .values_list("here", "kind", "lot__offcut", "sum")
    )
    said = {
        name: things_in_words((kind, bool(offcut), pieces) for there, kind, offcut, pieces in of_kinds if there is here)
        for name, here in (("yard", True), ("coming", False))
    }
    return rows.aggregate(houses=Count("house", distinct=True), first=Min("need_by")) | said


@dataclass(frozen=True)
class ReservationDifference:
    """A lot or order line whose ``reserved`` is not the sum of its reservations, or is more than there is."""

    what: Any
    reserved: int
    summed: int
    there: int


def wrongly_reserved_lots(*, organisation: Organisation | None = None) -> Iterator[ReservationDifference]:
    """What the recount finds wrong, by one query; of every organisation without ``organisation``."""
    lots = Lot.objects.all() if organisation is None else Lot.objects.of(organisation)
    for lot in (
        wrongly_reserved(lots, "lot", Q(reserved__gt=F("on_hand"))).select_related("organisation").iterator(2000)
    ):
        yield ReservationDifference(lot, lot.reserved, lot.summed, lot.on_hand)


def wrongly_reserved(rows: QuerySet, name: str, too_many: Q) -> QuerySet:
    """Those of ``rows``, which reservations call ``name``, whose ``reserved`` is wrong or ``too_many``, ``summed``."""
    held = Reservation.objects.filter(**{name: OuterRef("pk")}).order_by().values(name).annotate(n=Sum("quantity"))
    rows = rows.order_by().annotate(summed=Coalesce(Subquery(held.values("n")), Value(0)))
    return rows.filter(~Q(reserved=F("summed")) | too_many).order_by("pk")
