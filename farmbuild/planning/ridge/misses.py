"""The best that can be done with a ridge that no moves bring within tolerance. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence

from ortools.linear_solver import pywraplp

from farmbuild.planning.ridge.plan import RidgePlan, SetHoop


def nearest(hoops: Sequence[SetHoop], *, tolerance: float, slope: float | None = None) -> RidgePlan:
    """First the least sum of what the hoops stay outside the tolerance, then the least total of moves for it.

    One hoop that is stuck so stays off alone, where making the worst miss smallest would put every hoop off by half.
    ``hoops``, ``tolerance`` and ``slope`` are as in ``straighten``, whose ValueErrors come first.
    """
    outside = sum(_solve(hoops, tolerance, slope, None)[1])
    # The first answer carries rounding of the last bits; a micron in all lets the second program in.
    plan, _ = _solve(hoops, tolerance, slope, outside + 1e-3)
    return plan


def _solve(
    hoops: Sequence[SetHoop], tolerance: float, slope: float | None, allowed: float | None
) -> tuple[RidgePlan, list[float]]:
    solver = pywraplp.Solver.CreateSolver("GLOP")
    infinity = solver.infinity()
    start = solver.NumVar(-infinity, infinity, "start")
    tilt = solver.NumVar(-infinity, infinity, "slope") if slope is None else None
    ups, downs, misses = [], [], []
    for index, hoop in enumerate(hoops):
        up = solver.NumVar(0, hoop.up, f"up {index}")
        down = solver.NumVar(0, hoop.down, f"down {index}")
        miss = solver.NumVar(0, infinity, f"miss {index}")
        off = hoop.height + up - down - start - (tilt if tilt is not None else slope or 0.0) * hoop.at
        solver.Add(off <= tolerance + miss)
        solver.Add(off >= -tolerance - miss)
        ups.append(up)
        downs.append(down)
        misses.append(miss)
    if allowed is not None:
        solver.Add(sum(misses) <= allowed)
    solver.Minimize(sum(misses) if allowed is None else sum(ups) + sum(downs))
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        raise ValueError("The ridge could not be worked out from these heights.")
    moves = tuple(up.solution_value() - down.solution_value() for up, down in zip(ups, downs, strict=True))
    angle = tilt.solution_value() if tilt is not None else slope or 0.0
    base = start.solution_value()
    left = [
        max(0.0, abs(hoop.height + move - base - angle * hoop.at) - tolerance)
        for hoop, move in zip(hoops, moves, strict=True)
    ]
    worst = left.index(max(left))
    return RidgePlan(moves, base, angle, left[worst], worst), left
