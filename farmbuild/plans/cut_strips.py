"""The cut plan as strips, by material or by house: how often, the stick with its lengths and marks, a box a stick."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said, said_count, said_day
from farmbuild.common.strips import At, Part, strip
from farmbuild.measure import format_count
from farmbuild.plans.cut_bundles import MAX_TICKS, Bundle, Share

#: More names than this in one line are counted.
MAX_NAMES = 2


@dataclass(frozen=True)
class Box:
    """A stick to tick: which share of the layout it is of, and which stick there."""

    share: int
    stick: int
    label: str


@dataclass(frozen=True)
class Strip:
    """``times`` sticks cut alike. Of a house, those with a piece of it; ``own``: which pieces."""

    bundle: Bundle
    #: With their numbers in the layout, under which ticks are kept.
    shares: tuple[tuple[int, Share], ...]
    own: tuple[bool, ...] | None
    #: Material or house.
    heading: str
    units: str

    @property
    def times(self) -> int:
        return sum(share.times for _, share in self.shares)

    @property
    def boxes(self) -> list[Box]:
        """One a stick; none where there are too many, which are counted by house instead."""
        if self.times > MAX_TICKS:
            return []
        each = [(number, stick) for number, share in self.shares for stick in range(share.times)]
        return [
            Box(*found, gettext("Stick %(at)s of %(each)s") % {"at": at, "each": len(each)})
            for at, found in enumerate(each, start=1)
        ]

    @property
    def pieces(self) -> str:
        """2 × 7', 6'; what is left and where it goes."""
        if self.bundle.uncut:
            return gettext("whole, no cut")
        said = [
            f"{format_count(count)} × {length}" if count > 1 else length
            for length, count in ((length, len(list(run))) for length, run in groupby(self._lengths()))
        ]
        return f"{', '.join(said)}; {self.end}"

    @property
    def end(self) -> str:
        if not self.bundle.remainder:
            return gettext("no offcut")
        words = gettext("%(length)s to the rack") if self.bundle.kept else gettext("%(length)s scrap")
        return words % {"length": self._say(self.bundle.remainder)}

    @property
    def source(self) -> str:
        if self.bundle.on_order:
            return gettext("on order")
        if not self.bundle.in_yard:
            return gettext("to buy")
        return _few(f"{share.lot_name}, {share.place}" for _, share in self.shares)

    @property
    def whom(self) -> str:
        """The houses, then what for."""
        runs = [run for _, share in self.shares for run in share.runs]
        return f"{_few(run.house for run in runs)}: {_few(said(run.purpose) for run in runs)}"

    @property
    def summary(self) -> str:
        """From where, by which day, for whom."""
        told = {"source": self.source, "day": said_day(self.bundle.need_by), "whom": self.whom}
        return gettext("%(source)s, by %(day)s: %(whom)s") % told

    def svg(self, key: str, longest: Decimal) -> SafeString:
        bundle, stick = self.bundle, self._say(self.bundle.stick_length)
        title = f"{bundle.material.name}, {stick}, {said_count(len(bundle.cuts), 'piece')}"
        if bundle.uncut:
            whole = Part(Decimal(0), bundle.stick_length, gettext("whole"))
            return strip(
                key, [whole], [], longest, title, gettext("A stick of %(stick)s, used whole.") % {"stick": stick}
            )
        parts = [
            Part(cut.start, cut.length, length, "cut" if self.own is None or self.own[at] else "other")
            for at, (cut, length) in enumerate(zip(bundle.cuts, self._lengths(), strict=True))
        ]
        if bundle.remainder:
            parts.append(
                Part(bundle.remainder_start, bundle.remainder, self.end, "end" if bundle.kept else "scrap"),
            )
        marks = [At(cut.end, self._say(cut.mark.shown)) for cut in bundle.cuts if cut.mark]
        words = gettext("A stick of %(stick)s, cut from the left into %(lengths)s; %(end)s. Marks at %(value)s.") % {
            "stick": stick,
            "lengths": ", ".join(self._lengths()),
            "end": self.end,
            "value": ", ".join(mark.words for mark in marks) or gettext("no place"),
        }
        return strip(key, parts, marks, longest, title, words)

    def _say(self, length: Decimal) -> str:
        return length_text(length, self.units)

    def _lengths(self) -> list[str]:
        return [self._say(cut.length) for cut in self.bundle.cuts]


def by_material(bundles: Iterable[Bundle], units: str) -> list[Strip]:
    return [
        Strip(bundle, tuple(enumerate(bundle.shares, start=1)), None, bundle.material.name, units) for bundle in bundles
    ]


def by_house(bundles: Sequence[Bundle], houses: Mapping[str, str], units: str) -> list[Strip]:
    """By house in the order of the plan; a stick with pieces of several houses stands at each of them."""
    return [
        Strip(bundle, tuple(shares), own, name, units)
        for name in houses.values()
        for bundle in bundles
        for own, shares in _shares_of(bundle, name)
    ]


def _shares_of(bundle: Bundle, house: str) -> Iterator[tuple[tuple[bool, ...], list[tuple[int, Share]]]]:
    """Those with pieces of the house, the same pieces together."""
    alike: dict[tuple[bool, ...], list[tuple[int, Share]]] = defaultdict(list)
    for number, share in enumerate(bundle.shares, start=1):
        own = tuple(run.house == house for run in share.runs for _ in range(run.quantity))
        if any(own):
            alike[own].append((number, share))
    yield from alike.items()


@dataclass(frozen=True)
class Row:
    """A strip down the page, drawn. Of a part of the page, the rest is on paper only.

    ``heads``: its heading stands over it; ``heads_on``: the class that keeps it to paper or to the screen.
    """

    strip: Strip
    drawing: SafeString
    on_page: bool
    heads: bool
    heads_on: str


def rows_of(strips: Sequence[Strip], first: int, last: int, longest: Mapping[str, Decimal]) -> list[Row]:
    """All of them; the ``first`` to the ``last``, counted from 1, are on the page that is shown."""
    rows: list[Row] = []
    for number, each in enumerate(strips, start=1):
        on_page = first <= number <= last
        on_paper = number == 1 or strips[number - 2].heading != each.heading
        on_screen = on_page and (on_paper or number == first)
        where = "" if on_paper and on_screen else "print-only" if on_paper else "screen-only"
        drawing = each.svg(f"s{number}", longest[each.bundle.material.code])
        rows.append(Row(each, drawing, on_page, on_paper or on_screen, where))
    return rows


def _few(names: Iterable[str]) -> str:
    each = list(dict.fromkeys(names))
    more = len(each) - MAX_NAMES
    return ", ".join(each[:MAX_NAMES]) + (
        gettext(" and %(more)s more") % {"more": format_count(more)} if more > 0 else ""
    )
