"""The pieces of one material, through the cut plan, with lots and houses handed back to every stick.

What a stick costs the plan: a new one, the least price that arrives in time, at the break that would be
reached if every piece came from that length together with what is ordered whole of it, or what ``Terms`` say. One on
hand, what the yard paid, but at most 9/10 of the new price of its length (a full stick) or 5/10 (an offcut), so that
what is there is used before money is spent; one of common stock, its price. What is left of a stick is given no value
here; it shows among the leftovers.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from farmbuild.measure import Grid, UnitSystem, format_length, to_grid
from farmbuild.measure.money import from_minor, round_money, to_minor
from farmbuild.planning.cutting import CutPlan, Piece, Stock, plan_cuts
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Lot
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.netting.market import Item, Market
from farmbuild.planning.netting.yard import Yard
from farmbuild.planning.results import CutLayout, CutPiece, CutPlanSummary, TakeoffRow, Unmet

FULL_SHARE = Decimal("0.9")
OFFCUT_SHARE = Decimal("0.5")
#: A plan this close to its bound is left as it is.
GOOD_GAP = 0.02
HARDER = 4.0


@dataclass(frozen=True)
class Saw:
    """What holds for every cut: kerf in mm, the reader's units, the coins of the cost, and how much work the
    plan of one material may take."""

    kerf: Decimal
    units: UnitSystem
    currency: str
    #: Each of 1.5 is about a second; the clock is the last resort, on a machine that hardly runs.
    effort: float = 1.5
    seconds: float = 60.0
    #: Whether somebody asked for the best so far.
    ended: Callable[[], bool] | None = None

    def coins(self, amount: Decimal) -> int:
        return to_minor(round_money(amount, self.currency), self.currency)

    def plan(self, pieces: Sequence[Piece], stock: Sequence[Stock], grid: Grid) -> CutPlan:
        """The cut plan; one that is not known to be good is worked on again, harder."""
        kerf = grid.to_int(self.kerf)
        plan = self._planned(pieces, stock, kerf, self.effort)
        if plan.gap > GOOD_GAP and not self.is_ended:
            plan = self._planned(pieces, stock, kerf, HARDER * self.effort)
        return plan

    @property
    def is_ended(self) -> bool:
        return self.ended is not None and self.ended()

    def _planned(self, pieces: Sequence[Piece], stock: Sequence[Stock], kerf: int, effort: float) -> CutPlan:
        return plan_cuts(
            pieces,
            stock,
            kerf=kerf,
            time_limit=self.seconds,
            effort=effort,
            progress=lambda *_: self.is_ended,
        )


@dataclass(frozen=True)
class Wanted:
    length: Decimal
    house: str
    purpose: str
    need_by: date


@dataclass(frozen=True)
class Terms:
    """What new sticks cost one batch, in coins, by length.

    ``paid``: so many are ordered whatever is cut, so that they cost nothing here, and each one more costs ``fine``
    besides; () for none.
    """

    prices: tuple[int, ...]
    paid: tuple[int, ...] = ()
    fine: int = 0


@dataclass(frozen=True)
class Batch:
    """The cut plan of pieces that can draw on the same sticks, as whoever chooses the offers sees it.

    ``lengths`` are on offer; ``bought`` new sticks are cut of each, never of use beyond ``most``. ``charge``: coins for
    the yard's sticks. ``bound``: however the pieces are cut, by these terms new sticks and charge come to that or more.
    ``effort``: work that it took.
    """

    days: tuple[date, date]
    lengths: tuple[Decimal, ...]
    most: tuple[int, ...]
    terms: Terms
    bought: tuple[int, ...]
    charge: int
    bound: int
    effort: float

    @property
    def cost(self) -> int:
        return self.charge + sum(n * price for n, price in zip(self.bought, self.terms.prices, strict=True))


@dataclass
class CutResult:
    layouts: list[CutLayout]
    summary: CutPlanSummary
    unmet: list[Unmet]
    batches: tuple[Batch, ...]

    @property
    def to_buy(self) -> list[CutLayout]:
        return [layout for layout in self.layouts if not layout.lot]


@dataclass(frozen=True)
class _Group:
    """Sticks that are alike to the cut plan: lots of one length and charge, or new sticks (no lots), ``most`` of them
    where they are paid for already."""

    length: Decimal
    charge: int
    lots: tuple[Lot, ...]
    most: int | None = None


def cut_material(
    material: Material,
    rows: Sequence[tuple[House, TakeoffRow]],
    yard: Yard,
    market: Market,
    saw: Saw,
    *,
    ordered: Mapping[Item, int],
    terms: Sequence[Terms] = (),
) -> CutResult:
    """Plan all cuts of one material. ``rows`` in need order; the yard goes down by the sticks used.

    Need dates that can draw on the same lengths and lots are planned together; dates for which more arrives
    in time make a later batch. A batch's offcuts are not used by the next. ``ordered``: what is bought whole.
    ``terms``: one a batch, else what the market asks.
    """
    if material.kind is Kind.FILM:
        saw = replace(saw, kerf=Decimal(0))  # A knife takes nothing off.
    batches: list[tuple[tuple[tuple[Decimal, ...], frozenset[str]], list[tuple[House, TakeoffRow]]]] = []
    coming = [lot for lot in yard.of(material.code) if lot.available_from is not None]
    for house, row in rows:
        day = house.need_date
        lots = frozenset(lot.ref for lot in coming if lot.available_from and lot.available_from <= day)
        key = (market.stick_lengths(material.code, day), lots)
        if batches and batches[-1][0] == key:
            batches[-1][1].append((house, row))
        else:
            batches.append((key, [(house, row)]))
    saw = replace(saw, effort=saw.effort / len(batches), seconds=saw.seconds / len(batches))
    there = dict(yard.left)
    parts = [
        _cut_batch(material, batch, key[0], yard, market, saw, ordered, there, terms[n] if terms else None)
        for n, (key, batch) in enumerate(batches)
    ]
    summaries = [part.summary for part in parts]
    return CutResult(
        layouts=[layout for part in parts for layout in part.layouts],
        summary=CutPlanSummary(
            material=material.code,
            kerf=saw.kerf,
            cost=sum((s.cost for s in summaries), Decimal(0)),
            bound=sum((s.bound for s in summaries), Decimal(0)),
            optimal=all(s.optimal for s in summaries),
            method="; ".join(dict.fromkeys(s.method for s in summaries)),
        ),
        unmet=[row for part in parts for row in part.unmet],
        batches=tuple(batch for part in parts for batch in part.batches),
    )


def _break_up(wanted: Wanted, quantity: int, longest: Decimal) -> list[tuple[Wanted, int]]:
    """A run that may be butted anywhere: as many of the longest stick as go in, and the rest."""
    if longest <= 0 or wanted.length <= longest:
        return [(wanted, quantity)]
    whole, rest = divmod(wanted.length, longest)
    parts = [(Wanted(longest, wanted.house, wanted.purpose, wanted.need_by), int(whole) * quantity)]
    if rest:
        parts.append((Wanted(rest, wanted.house, wanted.purpose, wanted.need_by), quantity))
    return parts


def _cut_batch(
    material: Material,
    rows: Sequence[tuple[House, TakeoffRow]],
    new_lengths: Sequence[Decimal],
    yard: Yard,
    market: Market,
    saw: Saw,
    ordered: Mapping[Item, int],
    there: Mapping[str, int],
    terms: Terms | None,
) -> CutResult:
    day = rows[0][0].need_date
    lots = [
        lot
        for lot in yard.every(material.code)
        if lot.length and (lot.available_from is None or lot.available_from <= day)
    ]
    there_still = [lot.length for lot in lots if lot.length and yard.left[lot.ref] > 0]
    longest = max([*new_lengths] or there_still, default=Decimal(0))
    total = Decimal(0)
    counts: dict[Decimal, int] = {}
    waiting: dict[Decimal, list[tuple[Wanted, int]]] = {}
    for house, row in rows:
        assert row.length is not None
        piece = Wanted(row.length, house.ref, row.purpose, house.need_date)
        parts = [(piece, row.quantity)]
        if material.butted:
            parts = _break_up(piece, row.quantity, longest)
        for part, quantity in parts:
            counts[part.length] = counts.get(part.length, 0) + quantity
            waiting.setdefault(part.length, []).append((part, quantity))
            total += part.length * quantity
    asked = {
        length: market.price(
            (material.code, length), day, math.ceil(total / length) + ordered.get((material.code, length), 0)
        )
        for length in new_lengths
    }
    terms = terms or Terms(tuple(saw.coins(asked[length]) for length in new_lengths))
    cheapest = min((price / length for length, price in asked.items()), default=None)
    held = _charged(lots, yard.left, cheapest, saw)
    new = [
        *(_Group(n, 0, (), paid) for n, paid in zip(new_lengths, terms.paid, strict=False) if paid),
        *(_Group(n, price + terms.fine, ()) for n, price in zip(new_lengths, terms.prices, strict=True)),
    ]
    groups = held + new
    lengths = sorted(counts, reverse=True)
    sticks = [*(lot.length for lot in lots if lot.length), *new_lengths]
    grid = to_grid([*lengths, *(stick for stick in sticks if stick >= lengths[-1]), saw.kerf])
    pieces = [Piece(grid.to_int(length), counts[length], str(n)) for n, length in enumerate(lengths)]
    useful = _useful(groups, lengths[-1])
    plan = saw.plan(pieces, _stock(useful, yard.left, grid), grid)
    bound, effort = plan.bound, plan.effort
    if any(yard.left[lot.ref] < there[lot.ref] for lot in lots):
        # Whatever earlier batches leave of the yard, the bound holds.
        every = _useful(_charged(lots, there, cheapest, saw) + new, lengths[-1])
        freest = saw.plan(pieces, _stock(every, there, grid), grid)
        bound, effort = min(bound, freest.bound), effort + freest.effort
    queue = {length: _expand(parts) for length, parts in waiting.items()}
    layouts = _hand_back(material.code, plan, lengths, useful, grid, queue, yard)
    times = Counter[Decimal]()
    charge = 0
    for layout in plan.layouts:
        group = useful[int(layout.stock_ref)]
        if group.lots:
            charge += group.charge * layout.times
        else:
            times[group.length] += layout.times
    batch = Batch(
        days=(day, max(house.need_date for house, _ in rows)),
        lengths=tuple(new_lengths),
        most=tuple(sum(n for length, n in counts.items() if length <= stick) for stick in new_lengths),
        terms=terms,
        bought=tuple(times[length] for length in new_lengths),
        charge=charge,
        bound=bound,
        effort=effort,
    )
    unmet = _unmet(material, queue, groups, saw.units)
    return CutResult(layouts, _summary(material.code, saw, plan, batch), unmet, (batch,))


def _expand(parts: Sequence[tuple[Wanted, int]]) -> list[Wanted]:
    """One entry a piece, the first needed last, so that it is popped first."""
    return [part for part, quantity in reversed(parts) for _ in range(quantity)]


def stick_charge(lot: Lot, length: Decimal, cheapest: Decimal | None) -> Decimal:
    """What a stick on hand costs the plan; one of common stock what it is. ``cheapest``: of a mm that is on offer."""
    if cheapest is None or lot.common:
        return lot.unit_cost
    return min(lot.unit_cost, (OFFCUT_SHARE if lot.offcut else FULL_SHARE) * cheapest * length)


def _charged(lots: Sequence[Lot], left: Mapping[str, int], cheapest: Decimal | None, saw: Saw) -> list[_Group]:
    """The yard's sticks, the cheapest for their length first. ``cheapest``: what a mm of a new one is asked for."""
    alike: dict[tuple[Decimal, int, bool, bool], list[Lot]] = {}
    for lot in lots:
        if lot.length is None or left[lot.ref] <= 0:
            continue
        charge = stick_charge(lot, lot.length, cheapest)
        alike.setdefault((lot.length, saw.coins(charge), lot.offcut, bool(lot.common)), []).append(lot)
    held = [_Group(length, charge, tuple(found)) for (length, charge, _, _), found in alike.items()]
    held.sort(key=lambda g: (not g.lots[0].offcut, g.length, g.charge, bool(g.lots[0].common)))
    return held


def _useful(groups: Sequence[_Group], shortest: Decimal) -> list[_Group]:
    """A stick shorter than every piece is of no use to the plan."""
    return [group for group in groups if group.length >= shortest]


def _stock(groups: Sequence[_Group], left: Mapping[str, int], grid: Grid) -> list[Stock]:
    return [
        Stock(
            grid.to_int(group.length),
            sum(left[lot.ref] for lot in group.lots) if group.lots else group.most,
            group.charge,
            str(n),
        )
        for n, group in enumerate(groups)
    ]


def _hand_back(
    material: str,
    plan: CutPlan,
    lengths: Sequence[Decimal],
    groups: Sequence[_Group],
    grid: Grid,
    queue: dict[Decimal, list[Wanted]],
    yard: Yard,
) -> list[CutLayout]:
    """Give every stick its lot and every piece its house: sticks on hand serve the first needed pieces."""
    sticks: dict[tuple[int, Lot | None, Decimal, tuple[Wanted, ...]], int] = {}
    for layout in sorted(plan.layouts, key=lambda row: (int(row.stock_ref), [int(x) for x in row.labels])):
        n = int(layout.stock_ref)
        group = groups[n]
        remainder = grid.to_mm(layout.remainder)
        for _ in range(layout.times):
            lot = None
            if group.lots:
                lot = next(lot for lot in group.lots if yard.left[lot.ref] > 0)
                yard.remove(lot.ref, 1)
            pieces = tuple(queue[lengths[int(label)]].pop() for label in layout.labels)
            key = (n, lot, remainder, pieces)
            sticks[key] = sticks.get(key, 0) + 1
    out = []
    for (n, lot, remainder, pieces), times in sticks.items():
        out.append(
            CutLayout(
                material=material,
                lot=lot.ref if lot else "",
                place=lot.place if lot else "",
                stick_length=groups[n].length,
                pieces=tuple(CutPiece(p.length, p.house, p.purpose) for p in pieces),
                times=times,
                remainder=remainder,
                need_by=min(p.need_by for p in pieces),
            )
        )
    return out


def _summary(material: str, saw: Saw, plan: CutPlan, batch: Batch) -> CutPlanSummary:
    bound = min(batch.bound, batch.cost)
    optimal = plan.optimal and bound == batch.cost
    return CutPlanSummary(
        material, saw.kerf, from_minor(batch.cost, saw.currency), from_minor(bound, saw.currency), optimal, plan.method
    )


#: What one of it is called as it is sold.
_NOUNS = {Kind.TUBE: "stick", Kind.LUMBER: "board", Kind.FILM: "roll", Kind.CHANNEL: "length of channel"}


def _unmet(
    material: Material, queue: dict[Decimal, list[Wanted]], groups: Sequence[_Group], units: UnitSystem
) -> list[Unmet]:
    noun = _NOUNS.get(material.kind, "piece")
    what = "sheet" if material.kind is Kind.FILM else "piece"
    longest = max((group.length for group in groups), default=None)
    sold = any(not group.lots for group in groups)
    counts: dict[tuple[Decimal, str, str], int] = {}
    for length in sorted(queue, reverse=True):
        for piece in reversed(queue[length]):
            key = (piece.length, piece.house, piece.purpose)
            counts[key] = counts.get(key, 0) + 1
    out = []
    for (length, house, purpose), count in counts.items():
        long = format_length(length, units)
        if longest is None:
            reason = f"The yard has no {material.name}, and nobody offers it."
        elif length > longest:
            reason = (
                f"A {what} of {long} is longer than the longest {noun} in the yard or on offer,"
                f" {format_length(longest, units)}."
            )
        elif sold:
            reason = f"No {noun} on offer is as long as {long}, and the yard's are used up."
        else:
            reason = f"The yard's {material.name} is used up, and nobody offers it."
        out.append(Unmet(material.code, length, count, house, purpose, reason))
    return out
