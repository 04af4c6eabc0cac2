"""The linear program over patterns, grown pattern by pattern until no better one exists."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ortools.linear_solver import pywraplp

from farmbuild.planning.cutting.bounds import Dual, dual_bound, rounded
from farmbuild.planning.cutting.patterns import Fillings
from farmbuild.planning.cutting.problem import Pattern, Problem

#: A pattern enters when it beats its price by more than this share.
TOLERANCE = 1e-7
#: Largest demand given to the floating-point solver as it is.
LARGE_DEMAND = 100_000
#: Close enough to stop, as a share of the cost, by whether it has to be closest.
NEAR = {True: Fraction(1, 10**9), False: Fraction(1, 10**5)}


class LinearProgramFailed(Exception):
    """The floating-point solver gave up; what was proven before still holds."""


@dataclass(frozen=True)
class Point:
    """A solution of the linear program: its cost, what each piece and limited bin is worth, pattern amounts."""

    cost: float
    values: list[float]
    rents: list[float]
    amounts: list[float]


class Master:
    """Least cost of covering the demand with the patterns known so far, in fractions of patterns."""

    def __init__(self, problem: Problem, demand: Iterable[int] | None = None) -> None:
        self.problem = problem
        self.demand = tuple(demand or problem.demand)
        self.patterns: list[Pattern] = []
        self._known: set[Pattern] = set()
        self._unit = max((b.cost for b in problem.bins), default=1) or 1
        #: Grows with the work done, about one a nanosecond.
        self.work = 0
        self._start(preprocess=False)

    @property
    def _each(self) -> float:
        """Pieces to one unit of the program: keeps its numbers small enough for floating point."""
        return max(1.0, max(self.demand, default=1) / LARGE_DEMAND)

    def _start(self, *, preprocess: bool) -> None:
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        flag = "true" if preprocess else "false"
        self._solver.SetSolverSpecificParametersAsString(f"use_preprocessing: {flag}")
        infinity, each = self._solver.infinity(), self._each
        self._cover = [self._solver.Constraint(d / each, infinity) for d in self.demand]
        self._stock = [
            None if b.quantity is None else self._solver.Constraint(-infinity, b.quantity / each)
            for b in self.problem.bins
        ]
        self._objective = self._solver.Objective()
        self._objective.SetMinimization()
        self._variables: list[pywraplp.Variable] = []
        for pattern in self.patterns:
            self._enter(pattern)

    def _enter(self, pattern: Pattern) -> None:
        variable = self._solver.NumVar(0, self._solver.infinity(), "")
        for i, k in pattern.counts:
            self._cover[i].SetCoefficient(variable, k)
        stock = self._stock[pattern.bin]
        if stock is not None:
            stock.SetCoefficient(variable, 1)
        self._objective.SetCoefficient(variable, self.problem.bins[pattern.bin].cost / self._unit)
        self._variables.append(variable)

    def add(self, patterns: Iterable[Pattern]) -> int:
        """Take in patterns not known yet; how many there were."""
        fresh = 0
        for pattern in patterns:
            if pattern not in self._known:
                self._known.add(pattern)
                self.patterns.append(pattern)
                self._enter(pattern)
                fresh += 1
        return fresh

    def restrict(self, demand: Sequence[int], stock: Sequence[int | None]) -> None:
        """Ask for this (smaller) demand and stock only; patterns that overshoot the demand are shut out."""
        self.demand = tuple(demand)
        infinity, each = self._solver.infinity(), self._each
        for row, d in zip(self._cover, demand, strict=True):
            row.SetBounds(d / each, infinity)
        for row, quantity in zip(self._stock, stock, strict=True):
            if row is not None and quantity is not None:
                row.SetBounds(-infinity, quantity / each)
        for pattern, variable in zip(self.patterns, self._variables, strict=True):
            fits = all(k <= demand[i] for i, k in pattern.counts)
            variable.SetUb(infinity if fits else 0)

    def shed(self, point: Point, most: int) -> None:
        """Keep only the ``most`` patterns nearest to paying their way, when there are more."""
        if len(self.patterns) <= most:
            return
        amounts = point.amounts + [0.0] * (len(self.patterns) - len(point.amounts))
        worth = [-gain(self.problem, point, p) for p in self.patterns]
        order = sorted(range(len(worth)), key=lambda a: (amounts[a] <= 0, worth[a], a))
        self.patterns = [self.patterns[a] for a in sorted(order[:most])]
        self._known = set(self.patterns)
        self._start(preprocess=False)

    def solve(self) -> Point:
        """Solve from the last basis; from nothing, and with presolve, when that goes astray."""
        status = self._solver.Solve()
        for preprocess in (False, True):
            if status == pywraplp.Solver.OPTIMAL:
                break
            self._start(preprocess=preprocess)
            status = self._solver.Solve()
        if status != pywraplp.Solver.OPTIMAL:
            raise LinearProgramFailed
        self.work += 1_500 * len(self.patterns) + 10_000 * (len(self._cover) + len(self._stock))
        unit, each = self._unit, self._each
        return Point(
            cost=self._objective.Value() * unit * each,
            values=[max(0.0, row.dual_value()) * unit for row in self._cover],
            rents=[0.0 if row is None else max(0.0, -row.dual_value()) * unit for row in self._stock],
            amounts=[v.solution_value() * each for v in self._variables],
        )


@dataclass(frozen=True)
class Relaxed:
    """The linear program solved (or as far as it went): last point, best proven dual, whether nothing is missing."""

    point: Point
    dual: Dual
    closed: bool


def generate(
    problem: Problem,
    fillings: Fillings,
    master: Master,
    *,
    stop: Callable[[], bool],
    ceiling: int,
    best: Dual | None = None,
    finish: bool = False,
) -> Relaxed:
    """Add patterns until the linear program is solved, its bound reaches ``ceiling``, or ``stop`` says so.

    ``best`` is a dual known already. Unless told to ``finish`` it ends as soon as no more can come of the bound
    after rounding.
    """
    centre: list[float] | None = None
    point = Point(0.0, [], [], [])
    while True:
        try:
            point = master.solve()
        except LinearProgramFailed:
            if best is None:
                raise
            return Relaxed(point, best, closed=False)
        trials = [(point.values, TOLERANCE)]
        if centre is not None:
            # Halfway to the best values so far: steadier, and often a better bound (Wentges, 1997).
            trials.insert(0, ([0.5 * a + 0.5 * b for a, b in zip(centre, point.values, strict=True)], TOLERANCE))
        if not fillings.exact:
            # Where a known pattern beats its price by the solver's own tolerance, ask for a little more.
            trials += [(point.values, 10 * TOLERANCE), (point.values, 100 * TOLERANCE)]
        added = 0
        for values, margin in trials:
            scale = max(1, int(2.0**44 / (max(values, default=0.0) or 1.0)))
            whole = [int(v * scale) for v in values]
            prices = [
                int((b.cost + rent) * (1 + margin) * scale) + 1
                for b, rent in zip(problem.bins, point.rents, strict=True)
            ]
            priced = fillings.price(whole, prices, wide=True)
            dual = dual_bound(problem, whole, priced.most, scale)
            if best is None or dual.bound > best.bound:
                best, centre = dual, values
            added = master.add(
                p for p in priced.patterns if gain(problem, point, p) > TOLERANCE * (1 + problem.bins[p.bin].cost)
            )
            if added or (values is point.values and not priced.patterns):
                break
        assert best is not None
        gap = Fraction(point.cost) - best.bound
        near = gap <= Fraction(max(1.0, point.cost)) * NEAR[fillings.exact or finish]
        # No further pattern can lift the rounded bound when the program over known ones rounds to it already.
        reached = rounded(problem, best.bound) >= (
            ceiling if finish else min(ceiling, _rounded_down(problem, point.cost))
        )
        closed = not added or near or reached
        if closed or stop():
            return Relaxed(point, best, closed)


def _rounded_down(problem: Problem, cost: float) -> int:
    return rounded(problem, Fraction(max(0.0, cost * (1 - 1e-7))))


def gain(problem: Problem, point: Point, pattern: Pattern) -> float:
    """By how much a pattern is worth more than it costs at these values."""
    worth = sum(point.values[i] * k for i, k in pattern.counts)
    return worth - problem.bins[pattern.bin].cost - point.rents[pattern.bin]
