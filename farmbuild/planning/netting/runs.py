"""Of which sticks a joined run is made: any length that the yard has or that is on offer, mixed where that is cheaper.

Each stick slides into the next, so n sticks with joints of s are sum(L) - (n - 1) s long: a stick adds L - s, and the
run wants its length less s. Sticks keep their swage, so offcuts are left out. A stick of the yard costs what it does in
a cut plan, one of common stock its price, a new one what the market asks for so many of its length; at equal cost the
length of the spec is taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from farmbuild.measure import UnitSystem, count_noun, format_length, join_words
from farmbuild.planning.house.shape import ceil_ratio
from farmbuild.planning.netting.cuts import FULL_SHARE
from farmbuild.planning.netting.market import Item, Market
from farmbuild.planning.netting.yard import Yard
from farmbuild.planning.results import TakeoffRow

ZERO = Decimal(0)
#: Of the search; beyond it the best that was found is taken.
MAX_NODES = 50_000
#: Sticks of the yard: how long one is, and of common stock what it costs.
_Held = tuple[Decimal, Decimal | None]


@dataclass(frozen=True)
class Option:
    """Sticks of one length at one cost; ``most`` None: as many as wanted. ``rank`` decides between equal costs."""

    length: Decimal
    cost: Decimal
    most: int | None
    rank: int = 0
    #: What one of common stock costs; None where it is none.
    common: Decimal | None = None


def cheapest_run(run: Decimal, slide: Decimal, options: Sequence[Option]) -> dict[Option, int] | None:
    """Least cost, then fewest sticks, then least rank, by branch and bound; None where the options do not reach."""
    usable = sorted(
        (o for o in options if o.length > slide and o.most != 0),
        key=lambda o: (o.cost / (o.length - slide), o.rank, -o.length),
    )
    best: tuple[Decimal, int, int] | None = None
    found: dict[Option, int] | None = None
    taken: dict[Option, int] = {}
    nodes = 0

    def search(at: int, missing: Decimal, so_far: tuple[Decimal, int, int]) -> None:
        nonlocal best, found, nodes
        nodes += 1
        if missing <= 0:
            if best is None or so_far < best:
                best, found = so_far, {option: n for option, n in taken.items() if n}
            return
        if at == len(usable) or nodes > MAX_NODES:
            return
        option = usable[at]
        adds = option.length - slide
        if best is not None and so_far[0] + missing * option.cost / adds > best[0]:
            return
        most = ceil_ratio(missing, adds)
        for n in range(most if option.most is None else min(most, option.most), -1, -1):
            taken[option] = n
            cost = (so_far[0] + n * option.cost, so_far[1] + n, so_far[2] + n * option.rank)
            search(at + 1, missing - n * adds, cost)
        taken[option] = 0

    search(0, run - slide, (ZERO, 0, 0))
    return found


def choose_sticks(
    row: TakeoffRow, yard: Yard, market: Market, day: date, ordered: Mapping[Item, int], units: UnitSystem
) -> list[TakeoffRow]:
    """The rows of whole sticks that the runs of ``row`` are made of; itself, where its own sticks are best.

    Runs that are there in part are finished with sticks of the row's own length.
    """
    assert row.length is not None
    each = ceil_ratio(row.run - row.slide, row.length - row.slide)
    if row.quantity != row.runs * each:
        return [row]
    left = _in_yard(row, yard, day)
    counts: Counter[tuple[tuple[Decimal, int], ...]] = Counter()
    for _ in range(row.runs):
        options = _options(row, left, market, day, ordered, row.quantity)
        chosen = cheapest_run(row.run, row.slide, options)
        if chosen is None:
            return [row]
        sticks = Counter[Decimal]()
        for option, n in chosen.items():
            sticks[option.length] += n
            if option.most is not None:
                left[option.length, option.common] -= n
        counts[tuple(sorted(sticks.items(), reverse=True))] += 1
    if all(tuple(length for length, _ in made) == (row.length,) for made in counts):
        return [row]
    return [part for made, times in counts.items() for part in _rows(row, made, times, units)]


def _in_yard(row: TakeoffRow, yard: Yard, day: date) -> Counter[_Held]:
    left: Counter[_Held] = Counter()
    for lot in yard.of(row.material):
        if lot.length and not lot.offcut and (lot.available_from is None or lot.available_from <= day):
            left[lot.length, lot.unit_cost if lot.common else None] += yard.left[lot.ref]
    return left


def _options(
    row: TakeoffRow, left: Mapping[_Held, int], market: Market, day: date, ordered: Mapping[Item, int], sticks: int
) -> list[Option]:
    """``sticks``: so many of the row's own length make all of its runs."""
    assert row.length is not None
    asked = {}
    for length in market.stick_lengths(row.material, day):
        many = ceil_ratio(sticks * row.length, length) + ordered.get((row.material, length), 0)
        asked[length] = market.price((row.material, length), day, many)
    own = row.length
    cheapest = min((price / length for length, price in asked.items()), default=Decimal(1))
    return [
        *(
            Option(length, FULL_SHARE * cheapest * length, n, int(length != own))
            for (length, price), n in left.items()
            if n > 0 and price is None
        ),
        *(
            Option(length, price, n, int(length != own), price)
            for (length, price), n in left.items()
            if n > 0 and price is not None and (length not in asked or price <= asked[length])
        ),
        *(Option(length, price, None, 2 + int(length != own)) for length, price in asked.items()),
    ]


def _rows(row: TakeoffRow, sticks: tuple[tuple[Decimal, int], ...], times: int, units: UnitSystem) -> list[TakeoffRow]:
    """One a length; the end that is sawn off comes off the shortest stick of each run."""

    def say(length: Decimal) -> str:
        return format_length(length, units)

    count = sum(n for _, n in sticks)
    made = sum((length * n for length, n in sticks), ZERO) - (count - 1) * row.slide
    off = made - row.run
    parts = [f"{count_noun(n, 'stick')} of {say(length)}" for length, n in sticks]
    working = (
        f"{count_noun(times, 'run')} of {say(row.run)}, each of"
        f" {join_words(parts)}"
        f" with {count_noun(count - 1, 'joint')} of {say(row.slide)}, {say(made)} long"
    )
    if off:
        working += f"; saw {say(off)} off the plain end of the last stick of each run"
    shortest = sticks[-1][0]
    return [
        replace(
            row,
            length=length,
            quantity=n * times,
            working=working,
            trim=off if length == shortest else ZERO,
            trims=times if off and length == shortest else 0,
        )
        for length, n in sticks
    ]
