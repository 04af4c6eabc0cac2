"""The pieces of one material, through the cut plan, with lots and houses handed back to every stick.

What a stick costs the plan: a new one, the least price that arrives in time, at the break that would be
reached if every piece came from that length. One on hand, what the yard paid, but at most 9/10 of the new
price of its length (a full stick) or 5/10 (an offcut), so that what is there is used before money is spent.
What is left of a stick is given no value here; it shows among the leftovers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from farmbuild.measure import Grid, UnitSystem, format_length, to_grid
from farmbuild.measure.money import from_minor, round_money, to_minor
from farmbuild.planning.cutting import CutPlan, Piece, Stock, plan_cuts
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Lot
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.netting.market import Market
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

    def coins(self, amount: Decimal) -> int:
        return to_minor(round_money(amount, self.currency), self.currency)

    def plan(self, pieces: Sequence[Piece], stock: Sequence[Stock], grid: Grid) -> CutPlan:
        """The cut plan; one that is not known to be good is worked on again, harder."""
        kerf = grid.to_int(self.kerf)
        plan = plan_cuts(pieces, stock, kerf=kerf, time_limit=self.seconds, effort=self.effort)
        if plan.gap > GOOD_GAP:
            plan = plan_cuts(pieces, stock, kerf=kerf, time_limit=self.seconds, effort=HARDER * self.effort)
        return plan


@dataclass(frozen=True)
class Wanted:
    length: Decimal
    house: str
    purpose: str
    need_by: date


@dataclass
class CutResult:
    layouts: list[CutLayout]
    summary: CutPlanSummary
    unmet: list[Unmet]

    @property
    def to_buy(self) -> list[CutLayout]:
        return [layout for layout in self.layouts if not layout.lot]


@dataclass(frozen=True)
class _Group:
    """Sticks that are alike to the cut plan: lots of one length and charge, or new sticks (no lots)."""

    length: Decimal
    charge: int
    lots: tuple[Lot, ...]


def cut_material(
    material: Material,
    rows: Sequence[tuple[House, TakeoffRow]],
    yard: Yard,
    market: Market,
    saw: Saw,
) -> CutResult:
    """Plan all cuts of one material. ``rows`` in need order; the yard goes down by the sticks used.

    Need dates that can draw on the same lengths and lots are planned together; dates for which more arrives
    in time make a later batch. A batch's offcuts are not used by the next.
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
    parts = [_cut_batch(material, batch, key[0], yard, market, saw) for key, batch in batches]
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
) -> CutResult:
    day = rows[0][0].need_date
    lots = [
        lot
        for lot in yard.of(material.code)
        if lot.length and (lot.available_from is None or lot.available_from <= day)
    ]
    longest = max([*new_lengths] or [lot.length for lot in lots if lot.length], default=Decimal(0))
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
    groups = _groups(material, lots, new_lengths, yard, market, day, total, saw)
    lengths = sorted(counts, reverse=True)
    # A stick shorter than every piece is of no use to the plan.
    useful = [group for group in groups if group.length >= lengths[-1]]
    grid = to_grid([*lengths, *(group.length for group in useful), saw.kerf])
    pieces = [Piece(grid.to_int(length), counts[length], str(n)) for n, length in enumerate(lengths)]
    stock = [
        Stock(
            grid.to_int(group.length),
            sum(yard.left[lot.ref] for lot in group.lots) if group.lots else None,
            group.charge,
            str(n),
        )
        for n, group in enumerate(useful)
    ]
    plan = saw.plan(pieces, stock, grid)
    queue = {length: _expand(parts) for length, parts in waiting.items()}
    layouts = _hand_back(material.code, plan, lengths, useful, grid, queue, yard)
    return CutResult(layouts, _summary(material.code, saw, plan), _unmet(material, queue, groups, saw.units))


def _expand(parts: Sequence[tuple[Wanted, int]]) -> list[Wanted]:
    """One entry a piece, the first needed last, so that it is popped first."""
    return [part for part, quantity in reversed(parts) for _ in range(quantity)]


def _groups(
    material: Material,
    lots: Sequence[Lot],
    new_lengths: Sequence[Decimal],
    yard: Yard,
    market: Market,
    day: date,
    total: Decimal,
    saw: Saw,
) -> list[_Group]:
    """Lots first, the cheapest for their length first; then new sticks."""
    price = {length: market.price((material.code, length), day, math.ceil(total / length)) for length in new_lengths}
    new = [_Group(length, saw.coins(price[length]), ()) for length in new_lengths]
    cheapest = min((price[length] / length for length in new_lengths), default=None)
    alike: dict[tuple[Decimal, int, bool], list[Lot]] = {}
    for lot in lots:
        if lot.length is None or yard.left[lot.ref] <= 0:
            continue
        charge = lot.unit_cost
        if cheapest is not None:
            most = (OFFCUT_SHARE if lot.offcut else FULL_SHARE) * cheapest * lot.length
            charge = min(charge, most)
        alike.setdefault((lot.length, saw.coins(charge), lot.offcut), []).append(lot)
    held = [_Group(length, charge, tuple(found)) for (length, charge, _), found in alike.items()]
    held.sort(key=lambda g: (not g.lots[0].offcut, g.length, g.charge))
    return held + new


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


def _summary(material: str, saw: Saw, plan: CutPlan) -> CutPlanSummary:
    cost, bound = from_minor(plan.cost, saw.currency), from_minor(plan.bound, saw.currency)
    return CutPlanSummary(material, saw.kerf, cost, bound, plan.optimal, plan.method)


def _unmet(
    material: Material, queue: dict[Decimal, list[Wanted]], groups: Sequence[_Group], units: UnitSystem
) -> list[Unmet]:
    longest = max((group.length for group in groups), default=None)
    sold = any(not group.lots for group in groups)
    counts: dict[tuple[Decimal, str, str], int] = {}
    for length in sorted(queue, reverse=True):
        for piece in reversed(queue[length]):
            key = (piece.length, piece.house, piece.purpose)
            counts[key] = counts.get(key, 0) + 1
    out = []
    for (length, house, purpose), count in counts.items():
        if longest is None:
            reason = f"The yard has no {material.name}, and nobody offers it."
        elif length > longest:
            reason = (
                f"A piece of {format_length(length, units)} is longer than the longest stick in the"
                " yard or on"
                f" offer, {format_length(longest, units)}."
            )
        elif sold:
            reason = f"No stick on offer is as long as {format_length(length, units)}, and the yard's are used up."
        else:
            reason = f"The yard's {material.name} is used up, and nobody offers it."
        out.append(Unmet(material.code, length, count, house, purpose, reason))
    return out
