"""Changes that may save something: where a count falls, and where the cut plan is short of a little length.

The dual values of the cut plan say what one more piece would cost. Pieces that together are worth more than a stick,
and too long for it by little, are why sticks are bought: shortened by that much they go in. Nothing here is a saving.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from farmbuild.measure import TAPE_STEP, to_grid
from farmbuild.planning.advice.changes import Change, Give, alike
from farmbuild.planning.cutting import Piece, Stock
from farmbuild.planning.cutting.worth import overfull, piece_values
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.spec import House
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import Season
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.netting.cuts import stick_charge
from farmbuild.planning.netting.market import Market
from farmbuild.planning.results import SeasonPlan, TakeoffRow

#: The take-off of each house.
_Rows = Sequence[tuple[TakeoffRow, ...]]
#: Changes of one field that are looked at further, of each kind.
MAX_EACH = 3


@dataclass(frozen=True)
class Maybe:
    """A change, and what it may save by the values of the cut plan; 0 where only a count falls."""

    change: Change
    worth: Decimal = Decimal(0)


@dataclass(frozen=True)
class _Cuts:
    """What the cut plan of one material is asked for: pieces and sticks on one grid, and what a piece is worth."""

    demand: dict[Decimal, int]
    sticks: tuple[tuple[Decimal, int | None, Decimal], ...]


def near_misses(season: Season, plan: SeasonPlan) -> list[Maybe]:
    """Changes worth planning again for, the most promising first; the same for the same season.

    ``plan`` is that of the season.
    """
    materials = {material.code: material for material in season.materials}
    rows = {house.ref: take_off(house, materials, season.buyer.units) for house in season.houses}
    cuts = _cuts_of(season, plan, materials)
    found: list[Maybe] = []
    for give, old, houses in alike(season):
        found += _of(season, materials, rows, cuts, give, old, houses)
    return sorted(found, key=lambda one: (-one.worth, one.change.field, one.change.by, one.change.houses))


def _of(
    season: Season,
    materials: Mapping[str, Material],
    rows: Mapping[str, tuple[TakeoffRow, ...]],
    cuts: Mapping[str, _Cuts],
    give: Give,
    old: Decimal,
    houses: tuple[House, ...],
) -> Iterator[Maybe]:
    units = season.buyer.units
    step = TAPE_STEP[units]
    most = int(give.most.of(units) / step)

    def change(steps: int) -> Change:
        by = steps * step
        return Change(give.field, tuple(house.ref for house in houses), old, old + by if give.up else old - by)

    def rows_with(steps: int) -> list[tuple[TakeoffRow, ...]] | None:
        """None: such a house could not be built."""
        made = [change(steps).apply(house) for house in houses]
        if any(check_spec(house.spec, materials, units) for house in made):
            return None
        return [take_off(house, materials, units) for house in made]

    while most and rows_with(most) is None:
        most //= 2
    if not most:
        return
    now = [rows[house.ref] for house in houses]
    yield from (Maybe(change(steps)) for steps in _fewer(now, rows_with, most))
    if (after := rows_with(1)) is None:
        return
    rates = _rates(now, after, step)
    best: dict[int, Fraction] = {}
    for material, moving in rates.items():
        if material in cuts:
            for steps, gain in _short_by(cuts[material], moving, season, material, materials, step, most):
                best[steps] = max(best.get(steps, Fraction(0)), gain)
    for steps in sorted(best, key=lambda n: (-best[n], n))[:MAX_EACH]:
        yield Maybe(change(steps), Decimal(best[steps].numerator) / Decimal(best[steps].denominator))


def _fewer(now: _Rows, rows_with: Callable[[int], _Rows | None], most: int) -> list[int]:
    """The least steps by which any count falls; none where none does within ``most``."""

    def counts(rows: _Rows) -> Counter[tuple[str, str, bool]]:
        return Counter({(row.purpose, row.material, row.whole): 0 for part in rows for row in part}) + Counter(
            key for part in rows for row in part for key in [(row.purpose, row.material, row.whole)] * row.quantity
        )

    before = counts(now)

    def fewer(steps: int) -> bool:
        after = rows_with(steps)
        return after is not None and any(counts(after)[key] < n for key, n in before.items())

    if not fewer(most):
        return []
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fewer(middle) else (middle, high)
    return [high]


def _rates(now: _Rows, after: _Rows, step: Decimal) -> dict[str, dict[Decimal, Decimal]]:
    """By material and length: by how much a piece gets shorter for each mm of the change."""
    rates: dict[str, dict[Decimal, Decimal]] = {}
    for before, later in zip(now, after, strict=True):
        if len(before) != len(later):
            continue
        for one, other in zip(before, later, strict=True):
            same = (one.purpose, one.material, one.quantity) == (other.purpose, other.material, other.quantity)
            if same and one.length and other.length and not one.whole and one.length > other.length:
                rates.setdefault(one.material, {})[one.length] = (one.length - other.length) / step
    return rates


def _short_by(
    cuts: _Cuts,
    moving: Mapping[Decimal, Decimal],
    season: Season,
    material: str,
    materials: Mapping[str, Material],
    step: Decimal,
    most: int,
) -> Iterator[tuple[int, Fraction]]:
    """(steps of the tape, what sticks so filled are worth more than they cost) for each filling short of little."""
    kerf_mm = Decimal(0) if materials[material].kind is Kind.FILM else season.kerf
    grid = to_grid([*cuts.demand, *(length for length, _, _ in cuts.sticks), kerf_mm, step, *moving])
    kerf = grid.to_int(kerf_mm)
    demand = {grid.to_int(length): n for length, n in cuts.demand.items()}
    stock = [
        Stock(grid.to_int(length), quantity, int(cost * 10_000), str(n))
        for n, (length, quantity, cost) in enumerate(cuts.sticks)
    ]
    values = piece_values([Piece(length, n, "") for length, n in demand.items()], stock, kerf=kerf)
    rate = {grid.to_int(length): Fraction(by) for length, by in moving.items() if length in cuts.demand}
    one = grid.to_int(step)
    give = {length: int(most * one * by) for length, by in rate.items()}
    if not values or not give:
        return
    for stick in stock:
        for found in overfull(values, demand, stick, kerf=kerf, give=give):
            gives = sum(k * rate.get(length, 0) for length, k in found.counts)
            if not gives:
                continue
            steps = -(-Fraction(found.over) // (gives * one))
            times = min(demand[length] // k for length, k in found.counts)
            if stick.quantity is not None:
                times = min(times, stick.quantity)
            if 0 < steps <= most and times:
                yield int(steps), found.gain * times / 10_000


def _cuts_of(season: Season, plan: SeasonPlan, materials: Mapping[str, Material]) -> dict[str, _Cuts]:
    """What is cut by the plan, of what: new sticks at the least price of the quantity, the yard's as charged."""
    market = Market.of(season.offers, season.as_of)
    day = max((house.need_date for house in season.houses), default=season.as_of)
    demand: dict[str, Counter[Decimal]] = {}
    for layout in plan.layouts:
        for piece in layout.pieces:
            demand.setdefault(layout.material, Counter())[piece.length] += layout.times
    taken: Counter[tuple[str, str]] = Counter()
    for one in plan.allocations:
        taken[one.material, one.lot] += one.quantity
    found = {}
    for code, pieces in demand.items():
        if not materials[code].by_length:
            continue
        total = sum(length * n for length, n in pieces.items())
        new = {
            length: market.price((code, length), day, int(total / length) + 1)
            for length in market.stick_lengths(code, day)
        }
        cheapest = min((price / length for length, price in new.items()), default=None)
        sticks: list[tuple[Decimal, int | None, Decimal]] = [(length, None, price) for length, price in new.items()]
        for lot in season.lots:
            left = lot.quantity - taken[code, lot.ref]
            if lot.material == code and lot.length and left > 0 and lot.length >= min(pieces):
                sticks.append((lot.length, left, stick_charge(lot, lot.length, cheapest)))
        if sticks:
            found[code] = _Cuts(dict(pieces), tuple(sticks))
    return found
