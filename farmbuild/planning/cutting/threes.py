"""Patterns ruled out by threes of piece rows, where a whole list of those that a better plan could use is at hand.

Of any three pieces wanted once each, at most one pattern that holds two of them is cut once: half of the three rows
together, rounded down, holds for whole numbers of patterns but not for fractions of them (subset rows: Jepsen,
Petersen, Spoorendonk and Pisinger, Operations Research 56, 2008; for bins: Wei, Luo, Baldacci and Lim, INFORMS Journal
on Computing 32, 2020). Where a piece more than wanted may be cut, half of the rows is rounded up instead. With the
list at hand no pattern need be sought by the new values. What is concluded is checked in whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from ortools.linear_solver import pywraplp

from farmbuild.planning.cutting.bounds import Dual
from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.exact import Listed, Settled
from farmbuild.planning.cutting.problem import Cuts, Problem, cuts_cost, is_plan

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: Rounds, new rows a round, and threes looked at in one.
ROUNDS, ROWS, THREES = 60, 40, 60_000
#: Rounds where some pairs are held together or apart already.
NODE_ROUNDS = 4
#: Less than so much of a pair together is none.
PART = 0.01
#: How far a row has to be from holding.
BROKEN = 1e-3
#: A stick's cost in whole numbers, and the largest that are worked with.
SCALE, REACH = 1 << 36, 1 << 62
#: Rows by pieces and columns by patterns that are tried; quantities and costs.
MOST_CELLS, LARGE, DEAR = 3_000_000, 100_000, 1 << 26
#: Counted work of a step of the linear program for a row, of a round, and of a number in a row.
STEP_WORK, ROUND_WORK, CELL_WORK = 450, 4_000_000, 1_200


@dataclass(frozen=True)
class Sifted:
    """The list less what no plan of its target uses, and what was found out by the way."""

    listed: Listed
    settled: Settled


def sift(problem: Problem, dual: Dual, listed: Listed, budget: Budget, *, share: float) -> Sifted:
    """Rule patterns out, and try pairs of pieces together and apart (Ryan and Foster, 1981) as far as that goes.

    Nothing is concluded from a list that is not whole, or is too large.
    """
    size = len(listed.patterns)
    if (
        not listed.whole
        or not size
        or size * len(problem.sizes) > MOST_CELLS
        or max(problem.demand) > LARGE
        or listed.target > DEAR
    ):
        return Sifted(listed, Settled(None, None))
    program = _Program(problem, dual, listed)
    best: Cuts | None = None
    kept: Bools | None = None
    waiting = [program.open]
    while waiting:
        program.only(waiting.pop() if kept is None else waiting.pop() & kept)
        for _ in range(ROUNDS if kept is None else NODE_ROUNDS):
            if budget.over(share) or not program.solve():
                return Sifted(_kept(listed, kept), Settled(best, None))
            budget.spend(program.take_work(), "ruling out patterns that do not go together")
            program.rule_out()
            if not program.open.any() or not program.tighten():
                break
        if kept is None:
            kept = program.open
        if not program.open.any():
            continue
        pair = program.pair()
        if pair is not None:
            waiting += program.apart_and_together(*pair)
            continue
        plan = program.plan(listed)
        if plan is None or not is_plan(problem, plan) or cuts_cost(problem, plan) > program.target:
            return Sifted(_kept(listed, kept), Settled(best, None))
        best, program.target = plan, cuts_cost(problem, plan) - 1
        waiting.append(program.open)
    assert kept is not None
    step = problem.cost_step or 1
    return Sifted(
        _kept(listed, kept), Settled(best, listed.target + step if best is None else cuts_cost(problem, best))
    )


def _kept(listed: Listed, kept: Bools | None) -> Listed:
    if kept is None:
        return listed
    return replace(listed, patterns=[p for p, keep in zip(listed.patterns, kept.tolist(), strict=True) if keep])


class _Program:
    """The linear program over the list, with rows for threes; pieces left out cost more than any stick."""

    def __init__(self, problem: Problem, dual: Dual, listed: Listed) -> None:
        self.target = listed.target
        self._demand: Ints = np.array(problem.demand, dtype=np.int64)
        self._counts: Ints = np.zeros((len(problem.sizes), len(listed.patterns)), dtype=np.int64)
        for at, pattern in enumerate(listed.patterns):
            for i, k in pattern.counts:
                self._counts[i, at] = k
        self._cost: Ints = np.array([problem.bins[p.bin].cost for p in listed.patterns], dtype=np.int64)
        #: Rows of pieces of which none is cut beyond the demand, for it would lose more than a plan may.
        self._exact = np.array([value > listed.slack for value in dual.values])
        self._most = np.array([max(-(-problem.demand[i] // k) for i, k in p.counts) for p in listed.patterns])
        self.open = np.ones(len(listed.patterns), dtype=bool)
        self._work = 0
        self._unit = max(1, int(self._cost.max()))
        self._scale = max(1, SCALE // self._unit)
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.SetSolverSpecificParametersAsString("use_preprocessing: false")
        self._objective = self._solver.Objective()
        self._objective.SetMinimization()
        infinity = self._solver.infinity()
        self._times = [self._solver.NumVar(0, infinity, "") for _ in listed.patterns]
        for variable, cost in zip(self._times, self._cost.tolist(), strict=True):
            self._objective.SetCoefficient(variable, cost / self._unit)
        # Coefficients, right side, and whether at least (+1), at most (-1) or exactly (0) that much.
        self._rows: list[tuple[Ints, int, int, pywraplp.Constraint]] = []
        for counts, demand, exact in zip(self._counts, problem.demand, self._exact.tolist(), strict=True):
            self._add(counts, demand, 0 if exact else 1)
        used = np.array([p.bin for p in listed.patterns])
        for b, held in enumerate(problem.bins):
            if held.quantity is not None:
                self._add((used == b).astype(np.int64), held.quantity, -1)
        self._known: set[tuple[int, int, int]] = set()

    def _add(self, counts: Ints, right: int, sense: int) -> None:
        infinity = self._solver.infinity()
        row = self._solver.Constraint(right if sense >= 0 else -infinity, right if sense <= 0 else infinity)
        held = np.flatnonzero(counts).tolist()
        self._work += CELL_WORK * len(held)
        for at in held:
            row.SetCoefficient(self._times[at], int(counts[at]))
        if sense >= 0:
            left_out = self._solver.NumVar(0, infinity, "")
            row.SetCoefficient(left_out, 1)
            self._objective.SetCoefficient(left_out, 2)
        self._rows.append((counts, right, sense, row))

    def only(self, open_: Bools) -> None:
        """Of all patterns these."""
        for at in np.flatnonzero(open_ != self.open).tolist():
            self._times[at].SetUb(self._solver.infinity() if open_[at] else 0)
        self.open = open_

    def take_work(self) -> int:
        work, self._work = self._work, 0
        return work

    def solve(self) -> bool:
        if self._solver.Solve() != pywraplp.Solver.OPTIMAL:
            return False
        # Read before anything is changed.
        self._now: Floats = np.array([v.solution_value() for v in self._times])
        self._values = [row.dual_value() * self._unit for _, _, _, row in self._rows]
        self._work += ROUND_WORK + STEP_WORK * self._solver.iterations() * len(self._rows)
        return True

    def rule_out(self) -> None:
        """Shut out the patterns that cost more than the values of this round leave for them, in whole numbers."""
        values = []
        reach = int(self._cost.max()) * self._scale
        for (counts, _, sense, _), worth in zip(self._rows, self._values, strict=True):
            value = round(worth * self._scale)
            values.append(max(0, value) if sense > 0 else min(0, value) if sense < 0 else value)
            reach += abs(values[-1]) * int(counts.max(initial=0))
        if reach > REACH:
            return
        prices = self._cost * self._scale
        total = 0
        for (counts, right, _, _), value in zip(self._rows, values, strict=True):
            if value:
                prices = prices - value * counts
                total += value * right
        # Whatever is still worth more than it costs is taken as often as it can be.
        gains = np.flatnonzero(self.open & (prices < 0))
        total += sum(p * m for p, m in zip(prices[gains].tolist(), self._most[gains].tolist(), strict=True))
        slack = min(self.target * self._scale - total, REACH)
        self.only(self.open & (prices <= slack) & (slack >= 0))

    def tighten(self) -> bool:
        """Rows for the threes that this solution breaks most; whether there were any."""
        times = self._now
        part = np.flatnonzero(self.open & (np.abs(times - np.round(times)) > 1e-6))
        if not len(part):
            return False
        threes = _threes(self._counts[:, part])
        if not len(threes):
            return False
        held, wanted = self._halves(threes, part)
        rounded_up: Bools = np.logical_not(self._exact[threes].all(axis=1))
        over = (held @ times[part] - wanted) * np.where(rounded_up, -1, 1)
        self._work += 40 * held.size
        added = 0
        for at in np.argsort(-over, kind="stable").tolist():
            if over[at] < BROKEN or added == ROWS:
                break
            three = (int(threes[at, 0]), int(threes[at, 1]), int(threes[at, 2]))
            if three in self._known:
                continue
            self._known.add(three)
            up = bool(rounded_up[at])
            counts = (self._counts[list(three)].sum(axis=0) + up) // 2
            self._add(counts, int(wanted[at]), 1 if up else -1)
            added += 1
        return added > 0

    def pair(self) -> tuple[int, int] | None:
        """Two pieces wanted once that are together in about half of this solution; None where none are in part."""
        part = np.flatnonzero(self.open & (np.abs(self._now - np.round(self._now)) > 1e-6))
        once: Ints = np.flatnonzero(self._exact & (self._demand == 1)).astype(np.int64)
        counts: Ints = self._counts[once][:, part]
        together = np.triu((counts * self._now[part]) @ counts.T, 1)
        off = np.where((together > PART) & (together < 1 - PART), np.abs(together - 0.5), 1.0)
        if not off.size or off.min() == 1.0:
            return None
        first, second = divmod(int(np.round(off, 6).argmin()), len(once))
        return int(once[first]), int(once[second])

    def apart_and_together(self, first: int, second: int) -> tuple[Bools, Bools]:
        one, other = self._counts[first] > 0, self._counts[second] > 0
        return self.open & ~(one & other), self.open & (one == other)

    def plan(self, listed: Listed) -> Cuts | None:
        """This solution, where it is whole."""
        times = np.round(self._now)
        if not np.allclose(times, self._now, atol=1e-6):
            return None
        return {listed.patterns[at]: int(times[at]) for at in np.flatnonzero(times > 0).tolist()}

    def _halves(self, threes: Ints, part: npt.NDArray[np.intp]) -> tuple[Ints, Ints]:
        up: Ints = np.logical_not(self._exact[threes].all(axis=1)).astype(np.int64)
        counts: Ints = self._counts[:, part]
        held: Ints = (counts[threes].sum(axis=1) + up.reshape(-1, 1)) // 2
        return held, (self._demand[threes].sum(axis=1) + up) // 2


def _threes(counts: Ints) -> Ints:
    """Threes of rows, one of which is held together with each of the others by some pattern."""
    together = (counts > 0).astype(np.int64)
    near = together @ together.T > 0
    np.fill_diagonal(near, val=False)
    out = []
    room = THREES
    for middle in range(len(near)):
        beside = np.flatnonzero(near[middle])
        first, second = np.triu_indices(len(beside), 1)
        three = np.stack([np.full(len(first), middle), beside[first], beside[second]], axis=1)[:room]
        out.append(np.sort(three, axis=1))
        room -= len(three)
        if not room:
            break
    return np.unique(np.concatenate(out), axis=0)
