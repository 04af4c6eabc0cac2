"""What lies in one length of one material, held and free, and what is to come of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.db.models import F, QuerySet, Sum, Window
from django.db.models.functions import RowNumber

from farmbuild.catalogue.models import Material
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import Site
from farmbuild.stock.models import Lot
from farmbuild.stock.selectors import Heap
from farmbuild.stock.signals import asking_what_comes

#: Lengths drawn of whole sticks and of offcuts: where many materials are drawn, and where one is.
MAX_WHOLE, MAX_OFFCUTS = 5, 3
MAX_OF_ONE = 40
_KINDS = Material.Kind.values


@dataclass(frozen=True)
class Coming:
    """Pieces of one length that are on order, the first of them ``due``; ``more``: others come on a later day."""

    material: int
    length: Decimal | None
    pieces: int
    due: date
    more: bool = False


@dataclass(frozen=True)
class Pile:
    """One length of one material, whole or offcut."""

    material: Material
    length: Decimal | None
    offcut: bool
    held: int
    free: int
    coming: Coming | None = None

    @property
    def there(self) -> int:
        return self.held + self.free

    @property
    def on_order(self) -> int:
        return self.coming.pieces if self.coming else 0


@dataclass(frozen=True)
class Rest:
    """Lengths that are not drawn."""

    lengths: int
    pieces: int


@dataclass(frozen=True)
class Piled:
    """All of one material, longest first, and what is said of it alone."""

    material: Material
    whole: tuple[Pile, ...]
    offcuts: tuple[Pile, ...]
    #: Of the whole ones, and of the offcuts.
    whole_rest: Rest | None = None
    offcuts_rest: Rest | None = None

    @property
    def by_length(self) -> bool:
        return self.material.by_length


def coming_of(*, organisation: Organisation, site: Site | None = None) -> list[Coming]:
    """What is on order, to the site alone where one is given: what those above answer."""
    answers = asking_what_comes.send(Lot, organisation=organisation, site=site)
    return [row for _, answer in answers for row in answer]


def materials_piled(heaps: Iterable[Heap], coming: Iterable[Coming], materials: Iterable[Material]) -> list[Material]:
    """Each that lies there or is to come: by kind, sticks before what is counted, what lies there first."""
    there = {heap.material.pk for heap in heaps if heap.pieces}
    found = there | {row.material for row in coming}
    rows = [one for one in materials if one.pk in found]
    return sorted(rows, key=lambda one: (_KINDS.index(one.kind), one.pk not in there))


def by_kind(materials: Iterable[Material]) -> list[Material]:
    return sorted(materials, key=lambda one: (_KINDS.index(one.kind), one.name, one.code))


def piled(
    lots: QuerySet[Lot],
    *,
    heaps: Iterable[Heap],
    materials: Collection[Material],
    coming: Collection[Coming] = (),
    pieces: str = "on_hand",
) -> list[Piled]:
    """Each of the materials with its longest lengths, by one query; the other lengths are counted from ``heaps``.

    ``pieces``: of each lot what is drawn of it; what of that nobody holds is free.
    """
    most = (MAX_WHOLE, MAX_OFFCUTS) if len(materials) > 1 else (MAX_OF_ONE, MAX_OF_ONE)
    heap = [F("material_id"), F("offcut")]
    rank = Window(RowNumber(), partition_by=heap, order_by=F("length").desc())
    # From the other end, so that a row that is drawn tells how many there are.
    up = Window(RowNumber(), partition_by=heap, order_by=F("length").asc())
    by_length = (
        lots.filter(material__in=[one.pk for one in materials], on_hand__gt=0)
        .select_related(None)
        .order_by()
        .values("material_id", "offcut", "length")
        .annotate(there=Sum(pieces), held=Sum(pieces) - Sum("on_hand") + Sum("reserved") + Sum("promised"))
    )
    columns = ("material_id", "offcut", "length", "there", "held")
    rows = by_length.annotate(rank=rank, up=up).filter(rank__lte=max(most)).values_list(*columns, "rank", "up")
    by_pk = {one.pk: one for one in materials}
    lying: dict[tuple[int, bool], list[Pile]] = {}
    found: dict[tuple[int, bool], int] = {}
    for material, offcut, length, there, held, at, from_end in rows:
        lying.setdefault((material, offcut), []).append(Pile(by_pk[material], length, offcut, held, there - held))
        found[material, offcut] = at + from_end - 1
    # Of what is to come, the lengths that are too short to be among these.
    drawn_already = {
        (pile.material.pk, pile.length) for (_, offcut), one in lying.items() if not offcut for pile in one
    }
    short = {(row.material, row.length) for row in coming if row.material in by_pk} - drawn_already
    if short and found:
        shorter = by_length.filter(offcut=False, length__in={length for _, length in short if length})
        for material, offcut, length, there, held in shorter.values_list(*columns):
            if (material, length) in short:
                lying.setdefault((material, offcut), []).append(
                    Pile(by_pk[material], length, offcut, held, there - held)
                )
    for row in coming:
        if row.material in by_pk:
            _add(lying.setdefault((row.material, False), []), by_pk[row.material], row)
    in_all = {(heap.material.pk, heap.offcut): heap.pieces for heap in heaps}
    made = []
    for one in materials:
        drawn, rests = [], []
        for offcut, many in zip((False, True), most, strict=True):
            longest = sorted(lying.get((one.pk, offcut), ()), key=lambda pile: -(pile.length or Decimal(0)))
            # What is to come is never left out.
            # One length more takes no more room than saying so.
            room = many + (found.get((one.pk, offcut), 0) == many + 1)
            shown = [pile for at, pile in enumerate(longest) if at < room or pile.coming]
            left = found.get((one.pk, offcut), 0) - sum(1 for pile in shown if pile.there)
            drawn.append(tuple(shown))
            more = in_all.get((one.pk, offcut), 0) - sum(pile.there for pile in shown)
            rests.append(Rest(left, more) if left else None)
        made.append(Piled(one, *drawn, *rests))
    return made


def _add(piles: list[Pile], material: Material, row: Coming) -> None:
    for at, pile in enumerate(piles):
        if pile.length == row.length:
            piles[at] = replace(pile, coming=row)
            return
    piles.append(Pile(material, row.length, False, 0, 0, row))


def piled_lot(lot: Lot) -> Piled:
    """One lot's own pile."""
    pile = Pile(lot.material, lot.length, lot.offcut, lot.reserved + lot.promised, lot.free)
    return Piled(lot.material, () if lot.offcut else (pile,), (pile,) if lot.offcut else ())
