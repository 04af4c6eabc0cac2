"""Reads of places, lots and movements."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Case, Count, F, IntegerField, QuerySet, Sum, When

from farmbuild.catalogue.models import Material
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.models import ImportDraft, Lot, Place
from farmbuild.stock.values import amount_of, coins_of


def members_of(*, organisation: Organisation) -> QuerySet:
    """Members of a cooperative, who may own lots; rows of a room above, known here by the field that names them."""
    model: Any = Lot._meta.get_field("owner").related_model
    rows: QuerySet = model.objects.of(organisation).filter(archived_at=None)
    return rows


def has_members(*, organisation: Organisation) -> bool:
    """Whether it is a cooperative."""
    return members_of(organisation=organisation).exists()


def places_of(*, organisation: Organisation) -> QuerySet[Place]:
    return Place.objects.of(organisation).select_related("site")


def places_with_lots(*, organisation: Organisation) -> QuerySet[Place]:
    """Places with ``lot_count``."""
    return places_of(organisation=organisation).annotate(lot_count=Count("lots"))


def lots_of(*, organisation: Organisation) -> QuerySet[Lot]:
    """Every lot, empty ones too, with material, place, its site, supplier and owner loaded."""
    return Lot.objects.of(organisation).select_related("material", "place__site", "supplier", "owner")


def every_lot(*, organisation: Organisation) -> QuerySet[Lot]:
    """With nothing loaded beside: to narrow and to sum."""
    return Lot.objects.of(organisation)


def lots_to_label(
    *, organisation: Organisation, chosen: Collection[int] = (), place: Place | None = None
) -> QuerySet[Lot]:
    """Lots of those keys, else those that lie in the place, else none."""
    if chosen:
        return lots_of(organisation=organisation).filter(pk__in=chosen)
    if place:
        return lots_on_hand(organisation=organisation).filter(place=place)
    return lots_of(organisation=organisation).none()


def lots_on_hand(*, organisation: Organisation) -> QuerySet[Lot]:
    return lots_of(organisation=organisation).filter(on_hand__gt=0)


def own_lots_on_hand(*, organisation: Organisation) -> QuerySet[Lot]:
    """Without those of members, of which the organisation takes nothing without leave."""
    return lots_on_hand(organisation=organisation).filter(owner=None)


def lots_of_members(*, organisation: Organisation) -> QuerySet[Lot]:
    return lots_of(organisation=organisation).exclude(owner=None)


#: Pieces of a lot that the organisation's houses have or may take: of a member's those that they hold by leave.
USABLE = Case(When(owner=None, then=F("on_hand") - F("promised")), default="reserved", output_field=IntegerField())


def lot_rows(lots: QuerySet[Lot], *, organisation: Organisation) -> QuerySet[Lot]:
    """Lots for a page of the list, in the list's order.

    Naming the organisation of the material too lets the database walk the materials by name and each one's lots by
    length, and stop after a page, instead of sorting every lot.
    """
    return (
        lots.filter(material__organisation=organisation)
        .alias(free_pieces=F("on_hand") - F("reserved") - F("promised"))
        .select_related("material")
        .prefetch_related("place", "supplier", "owner")
    )


def drafts_of(*, organisation: Organisation, user: User) -> QuerySet[ImportDraft]:
    return ImportDraft.objects.of(organisation).defer("file").filter(user=user)


@dataclass(frozen=True)
class Heap:
    """All that lies there of one material, whole or offcut, in every length."""

    material: Material
    offcut: bool
    lots: int
    pieces: int
    free: int
    worth: Decimal

    @property
    def held(self) -> int:
        return self.pieces - self.free


@dataclass(frozen=True)
class Totals:
    """Sums over the rows of a list."""

    lots: int
    pieces: int
    free: int
    worth: Decimal


def heaps_of(
    lots: QuerySet[Lot], *, materials: Iterable[Material], organisation: Organisation, pieces: str = "on_hand"
) -> list[Heap]:
    """Sums over ``lots``, by one query that an index covers; in the order of ``materials``, whole before offcuts.

    ``pieces``: how many of each lot are meant.
    """
    by_pk = {material.pk: material for material in materials}
    rows = (
        lots.select_related(None)
        .order_by()
        .values_list("material_id", "offcut")
        .annotate(
            lot_count=Count("pk"),
            piece_count=Sum(pieces),
            free_count=Sum("on_hand") - Sum("reserved") - Sum("promised"),
            coins=Sum(coins_of(pieces, organisation=organisation)),
        )
    )
    heaps = [
        Heap(by_pk[material], *rest, amount_of(coins, organisation=organisation)) for material, *rest, coins in rows
    ]
    order = {pk: at for at, pk in enumerate(by_pk)}
    return sorted(heaps, key=lambda heap: (order[heap.material.pk], heap.offcut))


def totals_of(heaps: Iterable[Heap]) -> Totals:
    heaps = list(heaps)
    return Totals(
        lots=sum(heap.lots for heap in heaps),
        pieces=sum(heap.pieces for heap in heaps),
        free=sum(heap.free for heap in heaps),
        worth=sum((heap.worth for heap in heaps), Decimal(0)),
    )
