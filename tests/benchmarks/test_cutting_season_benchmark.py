"""Seasons of cuts from several stick lengths, scarce ones and offcuts, beside patterns chosen by a general solver.

Caps: plans of ours within 0.2 % of their own proven bounds, 99 of 100 within 0.1 % and on the average within 0.02 %
(of 200: 163 proven best, 199 within 0.1 %, the average 0.005 % and the worst 0.17 %); no bound above what the other
way found; and on the average a 2,000th dearer than the other at most, which has 4 s for the whole-number choice where
ours has some 2 s in all.
``FARMBUILD_LONG=1`` tries 200 of them, else a few.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

from ortools.linear_solver import pywraplp
from pytest_benchmark.fixture import BenchmarkFixture

from farmbuild.planning.cutting import Piece, Stock, plan_cuts
from tests.planning.cutting_cases import faults, season_of_cuts
from tests.size import sized

SEASONS = range(sized(4, 200))
NEAR, GAP, USUAL_GAP = 0.001, 0.002, 0.0002
MOSTLY = 0.99
#: Seconds for the whole-number choice of the other way; ours counts its work instead, and takes less.
LIMIT = 4.0

Pattern = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Other:
    cost: int | None
    bound: int

    @property
    def gap(self) -> float:
        return 1.0 if self.cost is None else (self.cost - self.bound) / self.cost


def patterns_and_highs(pieces: list[Piece], stock: list[Stock], kerf: int) -> Other:
    """Patterns until none helps the linear program, then whole numbers of them by HiGHS (Gilmore and Gomory, 1963)."""
    sizes = [p.length + kerf for p in pieces]
    wanted = [p.quantity for p in pieces]
    columns: list[tuple[int, Pattern]] = []
    for n, size in enumerate(sizes):
        k, stick = min(
            ((k, s) for k, s in enumerate(stock) if s.quantity is None and s.length + kerf >= size),
            key=lambda one: one[1].unit_cost,
        )
        columns.append((k, ((n, min(wanted[n], (stick.length + kerf) // size)),)))
    while True:
        solver, demand, limits = _program(stock, wanted, columns, whole=False)
        solver.Solve()
        values = [row.dual_value() for row in demand]
        added = False
        for k, stick in enumerate(stock):
            worth, pattern = _best(sizes, wanted, values, stick.length + kerf)
            price = stick.unit_cost - (limits[k].dual_value() if k in limits else 0.0)
            if worth > price + 1e-7 * max(1.0, price):
                columns.append((k, pattern))
                added = True
        if not added:
            break
    bound = math.ceil(solver.Objective().Value() - 1e-4)
    solver, _, _ = _program(stock, wanted, columns, whole=True)
    solver.SetTimeLimit(int(LIMIT * 1000))
    found = solver.Solve() in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE)
    return Other(round(solver.Objective().Value()) if found else None, bound)


def _program(stock: list[Stock], wanted: list[int], columns: list[tuple[int, Pattern]], *, whole: bool):
    solver = pywraplp.Solver.CreateSolver("HIGHS" if whole else "GLOP")
    solver.SuppressOutput()
    demand = [solver.Constraint(float(n), solver.infinity()) for n in wanted]
    limits = {k: solver.Constraint(0.0, float(s.quantity)) for k, s in enumerate(stock) if s.quantity is not None}
    for k, pattern in columns:
        times = solver.IntVar(0, solver.infinity(), "") if whole else solver.NumVar(0, solver.infinity(), "")
        solver.Objective().SetCoefficient(times, stock[k].unit_cost)
        for n, count in pattern:
            demand[n].SetCoefficient(times, count)
        if k in limits:
            limits[k].SetCoefficient(times, 1)
    solver.Objective().SetMinimization()
    return solver, demand, limits


def _best(sizes: list[int], wanted: list[int], values: list[float], room: int) -> tuple[float, Pattern]:
    """The filling worth most, by a solver too: lengths of a millimetre are too many for a table in Python."""
    solver = pywraplp.Solver.CreateSolver("SAT")
    counts = [
        (n, solver.IntVar(0, min(wanted[n], room // size), "")) for n, size in enumerate(sizes) if values[n] > 1e-9
    ]
    length = solver.Constraint(0, room)
    for n, count in counts:
        length.SetCoefficient(count, sizes[n])
        solver.Objective().SetCoefficient(count, values[n])
    solver.Objective().SetMaximization()
    solver.Solve()
    chosen = tuple((n, round(count.solution_value())) for n, count in counts if count.solution_value() > 0.5)
    return sum(values[n] * k for n, k in chosen), chosen


def test_seasons_beside_patterns_and_highs(benchmark: BenchmarkFixture) -> None:
    rows = []

    def both() -> None:
        for seed in SEASONS:
            pieces, stock, kerf = season_of_cuts(seed)
            start = time.process_time()
            plan = plan_cuts(pieces, stock, kerf=kerf, time_limit=60.0, effort=4.5)
            ours = time.process_time() - start
            assert faults(pieces, stock, plan, kerf=kerf) == []
            other = patterns_and_highs(pieces, stock, kerf)
            rows.append((seed, plan, ours, other))

    benchmark.pedantic(both, rounds=1)
    proven = sum(plan.cost == plan.bound for _, plan, _, _ in rows)
    near = sum(plan.gap <= NEAR for _, plan, _, _ in rows)
    others = sum(other.cost is not None and other.cost == other.bound for *_, other in rows)
    longest = max(seconds for _, _, seconds, _ in rows)
    print(f"\nours: {proven} proven best, {near} within 0.1 %, of {len(rows)}; the longest {longest:.2f} s")
    gaps = [plan.gap for _, plan, _, _ in rows]
    print(f"gap on the average {sum(gaps) / len(gaps):.3%}, at worst {max(gaps):.3%}")
    other_near = sum(other.gap <= NEAR for *_, other in rows)
    print(f"patterns and HiGHS, {LIMIT:g} s: {others} proven best, {other_near} within 0.1 %")
    for seed, plan, seconds, other in rows:
        print(f"{seed:4} ours {plan.cost} in {seconds:.2f} s, the other {other.cost}, none below {plan.bound}")
        assert other.cost is None or plan.bound <= other.cost, seed
        assert plan.gap <= GAP, (seed, plan.gap, plan.method)
    assert sum(gaps) <= USUAL_GAP * len(rows)
    assert near >= MOSTLY * len(rows)
    both_found = [(plan.cost / other.cost) for _, plan, _, other in rows if other.cost]
    # In half of the time.
    assert sum(both_found) <= 1.0005 * len(both_found)
