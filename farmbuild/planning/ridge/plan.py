"""Sighting the ridge by numbers: the smallest set of moves that brings every hoop to one line.

A linear program: least total of all moves, each within the travel its posts leave, every ridge height within the
tolerance of the line. Lengths in mm; a move above zero pulls the hoop up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp


@dataclass(frozen=True)
class SetHoop:
    """One hoop as set: place along the house, ridge height, and how far it can still go down and up."""

    at: float
    height: float
    down: float
    up: float


@dataclass(frozen=True)
class RidgePlan:
    """``moves`` by hoop; the line is ``start`` + ``slope`` times the place. ``short`` is by how much the worst hoop
    stays outside the tolerance when its travel is used up, 0 when all come within it; ``worst`` is its index."""

    moves: tuple[float, ...]
    start: float
    slope: float
    short: float
    worst: int | None

    @property
    def total(self) -> float:
        return sum(abs(move) for move in self.moves)


def straighten(hoops: Sequence[SetHoop], *, tolerance: float, slope: float | None = None) -> RidgePlan:
    """Least total adjustment to a straight line; ``slope`` None: whatever line needs the least.

    Where no set of moves reaches the tolerance, first the worst miss is made as small as can be. Raises ValueError
    for no hoops or a travel or tolerance below zero.
    """
    if not hoops:
        raise ValueError("There are no hoops to sight.")
    if tolerance < 0 or any(hoop.down < 0 or hoop.up < 0 for hoop in hoops):
        raise ValueError("Travel and tolerance cannot be below zero.")
    short = _solve(hoops, tolerance, slope, None).short
    # The first program's answer carries rounding of the last bits; a nanometre lets the second one in.
    return _solve(hoops, tolerance, slope, short + 1e-6 if short > 1e-6 else 0.0)


def _solve(hoops: Sequence[SetHoop], tolerance: float, slope: float | None, allowed: float | None) -> RidgePlan:
    solver = pywraplp.Solver.CreateSolver("GLOP")
    infinity = solver.infinity()
    low = min(hoop.at for hoop in hoops)
    start = solver.NumVar(-infinity, infinity, "start")
    tilt = solver.NumVar(-infinity, infinity, "slope") if slope is None else None
    miss = solver.NumVar(0, infinity if allowed is None else allowed, "miss")
    ups, downs = [], []
    for index, hoop in enumerate(hoops):
        up = solver.NumVar(0, hoop.up, f"up {index}")
        down = solver.NumVar(0, hoop.down, f"down {index}")
        line = start + (tilt if tilt is not None else slope or 0.0) * (hoop.at - low)
        off = hoop.height + up - down - line
        solver.Add(off <= tolerance + miss)
        solver.Add(off >= -tolerance - miss)
        ups.append(up)
        downs.append(down)
    solver.Minimize(miss if allowed is None else sum(ups) + sum(downs))
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        raise ValueError("The ridge could not be worked out from these heights.")
    moves = tuple(up.solution_value() - down.solution_value() for up, down in zip(ups, downs, strict=True))
    angle = tilt.solution_value() if tilt is not None else slope or 0.0
    base = start.solution_value() - angle * low
    misses = [
        abs(hoop.height + move - base - angle * hoop.at) - tolerance for hoop, move in zip(hoops, moves, strict=True)
    ]
    short = max(0.0, max(misses))
    worst = misses.index(max(misses)) if short > 1e-6 else None
    return RidgePlan(moves, base, angle, short if worst is not None else 0.0, worst)
