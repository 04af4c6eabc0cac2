"""A bound from whole numbers of sticks: the cheapest numbers of each kind for which the pattern program has room.

The pattern program buys a quarter of a stick where that is enough; nobody sells one, and trying the sticks of other
lengths instead costs more. For any piece values v >= 0 and any K[b] that no filling of bin b exceeds, a plan with
n[b] sticks of each kind has sum(K * n) >= sum(demand * v). The cheapest whole numbers that keep to the rows known so
far bound the cost from below; the pattern program with these numbers of sticks either has room for all pieces, or its
values are a new row (Benders, Numerische Mathematik 4, 1962). All rows are exact, in whole numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from farmbuild.planning.cutting.bounds import Dual
from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.exact import LARGEST, WORK_PER_UNIT
from farmbuild.planning.cutting.master import LinearProgramFailed, Master, generate
from farmbuild.planning.cutting.patterns import Fillings
from farmbuild.planning.cutting.problem import Pattern, Problem
from farmbuild.planning.solver import plain_solver

#: Rows made at most, and the solver's own time for the numbers of one round.
ROWS = 60
UNITS = 0.3
#: Size of the numbers in a row.
BITS = 40
#: Counted work of one round besides.
ROUND_WORK = 2_000_000


@dataclass(frozen=True)
class Whole:
    """No plan costs less than ``bound``; sticks by bin that hold all pieces in fractions at that cost, or None."""

    bound: int
    numbers: tuple[int, ...] | None


@dataclass(frozen=True)
class Row:
    """Any plan with ``n`` sticks by bin has sum(``most`` * n) >= ``need``."""

    most: tuple[int, ...]
    need: int

    def allows(self, numbers: Sequence[int]) -> bool:
        return sum(m * n for m, n in zip(self.most, numbers, strict=True)) >= self.need


class WholeNumbers:
    """Whole numbers of sticks with room for all pieces in fractions, the cheapest first."""

    def __init__(self, problem: Problem, fillings: Fillings, master: Master, dual: Dual) -> None:
        self._problem, self._fillings, self._master, self._dual = problem, fillings, master, dual
        self._rows = [row_of(problem, fillings, dual.values)]
        self._room: _Room | None = None
        #: Numbers that were handed out.
        self._tried: list[tuple[int, ...]] = []

    def following(self, budget: Budget, *, low: int, cost: int, share: float) -> Whole:
        """The next between ``low`` and ``cost``, what a plan at hand costs; the bound holds of the first alone."""
        if cost > LARGEST or sum(self._problem.demand) > LARGEST:
            return Whole(low, None)
        for _ in range(ROWS):
            found, numbers = cheapest(self._problem, self._rows, budget, low=low, cost=cost, but=self._tried)
            low = max(low, found)
            if numbers is None or low >= cost or budget.over(share):
                break
            row = self._row_against(numbers, budget, share)
            if row is None:
                self._tried.append(numbers)
                return Whole(low, numbers)
            self._rows.append(row)
        return Whole(low, None)

    def begin_anew(self) -> None:
        self._tried.clear()

    def _row_against(self, numbers: tuple[int, ...], budget: Budget, share: float) -> Row | None:
        self._room = self._room or _Room(self._problem, self._fillings, self._master, self._dual)
        values = self._room.values(numbers, budget, share)
        row = None if values is None else row_of(self._problem, self._fillings, values)
        return None if row is None or row.allows(numbers) else row


def row_of(problem: Problem, fillings: Fillings, values: Sequence[int]) -> Row:
    """The row of these piece values."""
    # Whole sums of a plan stay well within what the solver takes.
    shrink = max(0, max(1, sum(d * v for d, v in zip(problem.demand, values, strict=True))).bit_length() - BITS)
    small = [v >> shrink for v in values]
    return Row(fillings.most_worth(small), sum(d * v for d, v in zip(problem.demand, small, strict=True)))


def cheapest(
    problem: Problem,
    rows: list[Row],
    budget: Budget,
    *,
    low: int,
    cost: int,
    but: Sequence[tuple[int, ...]] = (),
) -> tuple[int, tuple[int, ...] | None]:
    """A bound of at most ``cost`` and numbers of sticks that keep to all rows, mostly at that bound (None: none).

    More of some kind than in each of ``but``, of which the bound says nothing.
    """
    model = cp_model.CpModel()
    pieces = sum(problem.demand)
    numbers = []
    for held in problem.bins:
        most = pieces if held.quantity is None else min(held.quantity, pieces)
        numbers.append(model.new_int_var(0, min(most, cost // held.cost) if held.cost else most, ""))
    for row in rows:
        if sum(m * pieces for m in row.most) > LARGEST << 8:
            return low, None
        model.add(sum(m * n for m, n in zip(row.most, numbers, strict=True)) >= row.need)
    for tried in but:
        more = [model.new_bool_var("") for _ in numbers]
        model.add_bool_or(more)
        for one, number, had in zip(more, numbers, tried, strict=True):
            model.add(number >= had + 1).only_enforce_if(one)
    total = sum(held.cost * n for held, n in zip(problem.bins, numbers, strict=True))
    model.add(total >= low)
    model.add(total <= cost - 1)
    model.minimize(total)
    solver = plain_solver()
    solver.parameters.max_deterministic_time = UNITS
    solver.parameters.max_time_in_seconds = max(0.01, budget.seconds_left)
    status = solver.solve(model)
    used = solver.response_proto.deterministic_time
    budget.spend(int(used * WORK_PER_UNIT) + ROUND_WORK, "counting whole sticks")
    if status == cp_model.INFEASIBLE:
        return cost, None
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        budget.over(0)
        return low, None
    bound = math.ceil(solver.best_objective_bound - 0.5)
    if status == cp_model.FEASIBLE and used < 0.9 * UNITS:
        budget.over(0)
    return problem.round_bound(bound, 1), tuple(solver.value(n) for n in numbers)


class _Room:
    """The pattern program for given numbers of sticks, in which one more of each kind can be had dear."""

    def __init__(self, problem: Problem, fillings: Fillings, master: Master, dual: Dual) -> None:
        self._problem = problem
        # What a stick on hand is worth above its cost, twice over.
        self._dear = [
            held.cost + 2 * (-(-price // dual.scale) - held.cost) + 1
            for held, price in zip(problem.bins, dual.prices, strict=True)
        ]
        start = self._part([0] * len(problem.bins))
        self._fillings = Fillings(start, cells=fillings.cells)
        self._master = Master(start)
        self._master.add(Pattern(2 * p.bin + own, p.counts) for p in master.patterns for own in (0, 1))

    def _part(self, numbers: Sequence[int]) -> Problem:
        bins = []
        for held, price, n in zip(self._problem.bins, self._dear, numbers, strict=True):
            bins += [replace(held, cost=0, quantity=n), replace(held, cost=price, quantity=None)]
        return replace(self._problem, bins=tuple(bins))

    def values(self, numbers: Sequence[int], budget: Budget, share: float) -> tuple[int, ...] | None:
        """Piece values that show that these sticks are too few; None where they suffice in fractions."""
        part = self._part(numbers)
        self._master.restrict(part.demand, [held.quantity for held in part.bins])
        before = self._master.work + self._fillings.work

        def stop() -> bool:
            nonlocal before
            now = self._master.work + self._fillings.work
            budget.spend(now - before, "counting whole sticks")
            before = now
            return budget.over(share)

        try:
            dual = generate(part, self._fillings, self._master, stop=stop, ceiling=LARGEST, finish=True).dual
        except LinearProgramFailed:
            return None
        return dual.values if dual.bound > 0 else None
