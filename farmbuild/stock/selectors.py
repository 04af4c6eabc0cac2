"""Reads of places, lots and movements."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, DecimalField, ExpressionWrapper, F, QuerySet, Sum

from farmbuild.catalogue.models import Material
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.models import ImportDraft, Lot, Movement, Place


def places_of(*, organisation: Organisation) -> QuerySet[Place]:
    return Place.objects.of(organisation).select_related("site")


def places_with_lots(*, organisation: Organisation) -> QuerySet[Place]:
    """Places with ``lot_count``."""
    return places_of(organisation=organisation).annotate(lot_count=Count("lots"))


def lots_of(*, organisation: Organisation) -> QuerySet[Lot]:
    """Every lot, empty ones too, with material, place, its site and supplier loaded."""
    return Lot.objects.of(organisation).select_related("material", "place__site", "supplier")


def lots_on_hand(*, organisation: Organisation) -> QuerySet[Lot]:
    return lots_of(organisation=organisation).filter(on_hand__gt=0)


def lot_rows(lots: QuerySet[Lot], *, organisation: Organisation) -> QuerySet[Lot]:
    """Lots for a page of the list, in the list's order.

    Naming the organisation of the material too lets the database walk the materials by name and each one's lots by
    length, and stop after a page, instead of sorting every lot.
    """
    return (
        lots.filter(material__organisation=organisation)
        .select_related("material")
        .prefetch_related("place", "supplier")
    )


def movements_of(*, organisation: Organisation, lot: Lot) -> QuerySet[Movement]:
    """A lot's movements, newest first, with who made them."""
    return Movement.objects.filter(lot__organisation=organisation, lot=lot).select_related("by").order_by("-pk")


def drafts_of(*, organisation: Organisation, user: User) -> QuerySet[ImportDraft]:
    return ImportDraft.objects.of(organisation).filter(user=user)


@dataclass(frozen=True)
class Pile:
    """What lies there of one material in one length, whole or offcut: lots, pieces and what they cost together."""

    material: Material
    length: Decimal | None
    offcut: bool
    lots: int
    pieces: int
    worth: Decimal


def pile_of(lot: Lot) -> Pile:
    return Pile(lot.material, lot.length, lot.offcut, 1, lot.on_hand, lot.on_hand * lot.unit_cost)


def piles_of(lots: QuerySet[Lot], *, materials: Iterable[Material]) -> list[Pile]:
    """Sums over ``lots``, by one query that an index covers; by material in the given order, longest first."""
    by_pk = {material.pk: material for material in materials}
    worth = ExpressionWrapper(F("on_hand") * F("unit_cost"), output_field=DecimalField(max_digits=30, decimal_places=4))
    rows = (
        lots.select_related(None)
        .order_by()
        .values("material_id", "length", "offcut")
        .annotate(lot_count=Count("pk"), piece_count=Sum("on_hand"), cost=Sum(worth))
    )
    piles = [
        Pile(by_pk[row["material_id"]], row["length"], row["offcut"], row["lot_count"], row["piece_count"], row["cost"])
        for row in rows
    ]
    order = {pk: at for at, pk in enumerate(by_pk)}
    return sorted(piles, key=lambda pile: (order[pile.material.pk], pile.offcut, -(pile.length or 0)))


@dataclass(frozen=True)
class Totals:
    """Sums over the rows of a list."""

    lots: int
    pieces: int
    worth: Decimal


def totals_of(piles: Iterable[Pile]) -> Totals:
    piles = list(piles)
    return Totals(
        lots=sum(pile.lots for pile in piles),
        pieces=sum(pile.pieces for pile in piles),
        worth=sum((pile.worth for pile in piles), Decimal(0)),
    )
