"""The cut plan as the saw sees it: equal sticks together, each drawn once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import groupby

from django.utils.translation import gettext

from farmbuild.catalogue.words import piece_noun
from farmbuild.common.speaking import said_noun
from farmbuild.measure import UnitSystem
from farmbuild.plans.bridge import (
    ON_ORDER,
    CutLayout,
    Mark,
    Material,
    Season,
    SeasonPlan,
    house_names,
    is_in_common,
    is_on_order,
    marks_of,
    rows_to_trim,
)

#: Sticks for so many different sets of houses stand under one drawing; more start another.
MAX_SHARES = 8
#: So many tick boxes are drawn for equal sticks; beyond that there is a count to write down.
MAX_TICKS = 20


@dataclass(frozen=True)
class Cut:
    """One piece of a stick: its number from the left, and where it starts and ends, in mm from that end.

    ``mark``: where it is sawn, None at the end of the stick.
    """

    number: int
    length: Decimal
    start: Decimal
    end: Decimal
    mark: Mark | None


@dataclass(frozen=True)
class Run:
    """Equal pieces in a row, for one purpose of one house."""

    quantity: int
    length: Decimal
    purpose: str
    house: str


@dataclass(frozen=True)
class Share:
    """So many of the sticks, from one lot or to buy, go to these houses."""

    kind: str
    lot: str
    place: str
    times: int
    need_by: date
    runs: tuple[Run, ...]

    @property
    def noun(self) -> str:
        return said_noun(self.times, piece_noun(self.kind))

    @property
    def lot_name(self) -> str:
        ref = self.lot
        if not is_on_order(ref):
            return ref if is_in_common(ref) else gettext("lot %(lot)s") % {"lot": ref}
        order, line = ref.removeprefix(ON_ORDER).rsplit(" line ", 1)
        return gettext("order %(order)s line %(line)s") % {"order": order, "line": line}

    @property
    def ticks(self) -> list[str]:
        """What each box is called."""
        words = gettext("Stick %(at)s of %(each)s")
        return [words % {"at": at, "each": self.times} for at in range(1, min(self.times, MAX_TICKS) + 1)]

    @property
    def uncounted(self) -> bool:
        return self.times > MAX_TICKS


@dataclass(frozen=True)
class Bundle:
    """Equal sticks cut alike, from the yard or to buy; ``kept``: the end goes back to stock."""

    number: int
    material: Material
    in_yard: bool
    on_order: bool
    stick_length: Decimal
    cuts: tuple[Cut, ...]
    remainder: Decimal
    kept: bool
    uncut: bool
    shares: tuple[Share, ...]

    @property
    def times(self) -> int:
        return sum(share.times for share in self.shares)

    @property
    def noun(self) -> str:
        return said_noun(self.times, piece_noun(self.material.kind))

    @property
    def need_by(self) -> date:
        return min(share.need_by for share in self.shares)

    @property
    def remainder_start(self) -> Decimal:
        return self.stick_length - self.remainder


@dataclass(frozen=True)
class Trim:
    """Joined sticks that are sawn to length at the plain end: ``off`` mm comes off each of ``times`` sticks."""

    house: str
    purpose: str
    material: Material
    length: Decimal
    off: Decimal
    times: int

    @property
    def left(self) -> Decimal:
        return self.length - self.off


def bundles_of(season: Season, plan: SeasonPlan) -> list[Bundle]:
    """By material: what is sawn before what is used as it is, then by the day needed, the yard's first."""
    materials = {material.code: material for material in season.materials}
    names = house_names(season)
    alike: dict[tuple[str, Decimal, bool, bool, tuple[Decimal, ...]], list[CutLayout]] = defaultdict(list)
    for layout in plan.layouts:
        lengths = tuple(piece.length for piece in layout.pieces)
        alike[layout.material, layout.stick_length, bool(layout.lot), is_on_order(layout.lot), lengths].append(layout)
    kerfs = {summary.material: summary.kerf for summary in plan.cut_summaries}
    bundles = []
    for layouts in alike.values():
        kind = materials[layouts[0].material].kind
        for at in range(0, len(layouts), MAX_SHARES):
            first, part = layouts[0], layouts[at : at + MAX_SHARES]
            bundles.append(
                Bundle(
                    number=0,
                    material=materials[first.material],
                    in_yard=bool(first.lot),
                    on_order=is_on_order(first.lot),
                    stick_length=first.stick_length,
                    cuts=tuple(_cuts(first, kerfs[first.material], season.buyer.units)),
                    remainder=first.remainder,
                    kept=first.remainder > 0 and first.remainder >= season.keep_from,
                    uncut=first.uncut,
                    shares=tuple(
                        Share(kind, one.lot, one.place, one.times, one.need_by, tuple(_runs(one, names)))
                        for one in part
                    ),
                )
            )
    bundles.sort(key=lambda b: (b.material.name, b.material.code, b.uncut, b.need_by, not b.in_yard, -b.times))
    return [replace(bundle, number=number) for number, bundle in enumerate(bundles, start=1)]


def trims_of(season: Season, plan: SeasonPlan) -> list[Trim]:
    materials = {material.code: material for material in season.materials}
    names = house_names(season)
    return [
        Trim(names[row.house], row.purpose, materials[row.material], row.length, row.trim, row.trims)
        for row in rows_to_trim(plan)
        if row.length is not None and row.trim > 0
    ]


def _cuts(layout: CutLayout, kerf: Decimal, units: UnitSystem) -> Iterator[Cut]:
    at = Decimal(0)
    for number, (piece, mark) in enumerate(zip(layout.pieces, marks_of(layout, kerf, units), strict=True), start=1):
        yield Cut(number, piece.length, at, at + piece.length, mark)
        at += piece.length + kerf


def _runs(layout: CutLayout, names: Mapping[str, str]) -> Iterator[Run]:
    for piece, equal in groupby(layout.pieces):
        yield Run(len(list(equal)), piece.length, piece.purpose, names[piece.house])


@dataclass(frozen=True)
class Figures:
    """Sticks that are sawn, those of them in the yard, their pieces; ``uncut`` ones are used as they are."""

    sticks: int
    from_yard: int
    pieces: int
    uncut: int


def figures_of(plan: SeasonPlan) -> Figures:
    sawn = [layout for layout in plan.layouts if not layout.uncut]
    return Figures(
        sticks=sum(layout.times for layout in sawn),
        from_yard=sum(layout.times for layout in sawn if layout.lot),
        pieces=sum(layout.times * len(layout.pieces) for layout in sawn),
        uncut=sum(layout.times for layout in plan.layouts) - sum(layout.times for layout in sawn),
    )


def longest_sticks(plan: SeasonPlan) -> dict[str, Decimal]:
    """The longest stick cut of each material: its drawings share that scale."""
    longest: dict[str, Decimal] = {}
    for layout in plan.layouts:
        longest[layout.material] = max(longest.get(layout.material, Decimal(0)), layout.stick_length)
    return longest
