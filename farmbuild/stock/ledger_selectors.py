"""Reads of the ledger: every movement of an organisation, loans that are out, and whether the sums agree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, F, OuterRef, QuerySet, Subquery, Sum, Value, Window
from django.db.models.functions import Coalesce

from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import CostShare, Cut, Lot, Movement, Repricing


def ledger_of(*, organisation: Organisation) -> QuerySet[Movement]:
    """Every movement, newest first, with its lot, material, place, house and who made it.

    Asking whether the lot is the organisation's, instead of joining it, lets the database walk from the newest and
    stop after a page, instead of sorting every movement of every lot.
    """
    own = Lot.objects.of(organisation).filter(pk=OuterRef("lot"))
    return (
        Movement.objects.filter(Exists(own))
        .prefetch_related("lot__material", "lot__place", "by", "house")
        .order_by("-pk")
    )


def count_up_to(rows: QuerySet[Movement], most: int) -> tuple[int, bool]:
    """How many there are, ``most`` at most, and whether there are more. Counting a million would take seconds."""
    there = rows.order_by()[: most + 1].count()
    return min(there, most), there > most


def moves_by_day(rows: QuerySet[Movement], most: int) -> list[tuple[datetime, int]]:
    """When each of the newest ``most`` was, and by how many pieces; one query."""
    return list(rows.order_by("-pk").values_list("at", "quantity")[:most])


def lot_history(*, organisation: Organisation, lot: Lot) -> QuerySet[Movement]:
    """A lot's movements, newest first, each with ``running``: the count after it."""
    return (
        Movement.objects.filter(lot__organisation=organisation, lot=lot)
        .select_related("by", "house")
        .annotate(running=Window(Sum("quantity"), order_by=F("pk").asc()))
        .order_by("-pk")
    )


def movement_rows(*, organisation: Organisation) -> QuerySet[Movement]:
    """Movements for their own page."""
    return Movement.objects.filter(lot__organisation=organisation).select_related(
        "lot__material", "lot__place", "by", "house", "cut", "reverses", "reversed_by", "gives_back"
    )


def repricings_of(*, lot: Lot) -> QuerySet[Repricing]:
    """Newest first."""
    return Repricing.objects.filter(lot=lot).select_related("by").order_by("-pk")


def shares_of(*, movement: Movement) -> QuerySet[CostShare]:
    """Who bears what it cost, with their houses and jobs."""
    return CostShare.objects.filter(movement=movement).select_related("house", "job").order_by("pk")


def open_loans(*, organisation: Organisation) -> QuerySet[Movement]:
    """Loans of which something is still out, oldest first, each with ``out``: pieces that have not come back."""
    back = (
        Movement.objects.filter(gives_back=OuterRef("pk"))
        .order_by()
        .values("gives_back")
        .annotate(sum=Sum("quantity"))
        .values("sum")
    )
    return (
        Movement.objects.filter(
            lot__organisation=organisation, kind=Movement.Kind.LEND, reverses=None, reversed_by=None
        )
        .annotate(out=-F("quantity") - Coalesce(Subquery(back), Value(0)))
        .filter(out__gt=0)
        .select_related("lot__material", "lot__place", "by")
        .order_by("pk")
    )


def loans_of_lot(*, lot: Lot) -> QuerySet[Movement]:
    return open_loans(organisation=lot.organisation).filter(lot=lot)


@dataclass(frozen=True)
class Difference:
    """A lot whose count is not the sum of its movements."""

    lot: Lot
    on_hand: int
    summed: int


def differences(*, organisation: Organisation | None = None) -> Iterator[Difference]:
    """Lots that the recount finds wrong, by one query; of every organisation without ``organisation``."""
    lots = Lot.objects.all() if organisation is None else Lot.objects.of(organisation)
    wrong = (
        lots.order_by()
        .annotate(summed=Coalesce(Sum("movements__quantity"), Value(0)))
        .exclude(on_hand=F("summed"))
        .select_related("organisation")
        .order_by("pk")
    )
    for lot in wrong.iterator(chunk_size=2000):
        yield Difference(lot, lot.on_hand, lot.summed)


def unequal_cuts(*, organisation: Organisation | None = None) -> Iterator[Cut]:
    """Cuts whose pieces do not add up to what was cut out of a stick, by one query."""
    cuts = Cut.objects.all() if organisation is None else Cut.objects.of(organisation)
    wrong = (
        cuts.order_by()
        .annotate(summed=Coalesce(Sum(F("pieces__each") * F("pieces__length_nm")), Value(0)))
        .exclude(summed=F("pieces_nm") + F("offcut_nm"))
        .select_related("lot")
        .order_by("pk")
    )
    yield from wrong.iterator(chunk_size=2000)
