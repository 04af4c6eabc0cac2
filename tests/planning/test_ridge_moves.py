"""Moves in whole steps and ridges that stay off, against scipy's linear programming and a search of every step."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from farmbuild.planning.ridge.misses import nearest
from farmbuild.planning.ridge.moves import DUST, in_steps
from farmbuild.planning.ridge.plan import RidgePlan, SetHoop, straighten

SIXTEENTH = Decimal("1.5875")
HOOPS = st.lists(
    st.tuples(st.integers(-400, 400), st.integers(0, 500), st.integers(0, 500)), min_size=1, max_size=12
).map(lambda rows: [SetHoop(1219.2 * i, 2200.0 + h / 10, d / 10, u / 10) for i, (h, d, u) in enumerate(rows)])
STEPS = st.sampled_from([SIXTEENTH, Decimal(1)])
SLOPES = st.sampled_from([None, 0.0, 0.01, -0.004])


def least_outside(hoops, tolerance, slope, outside=None):
    """By scipy: the least sum of what stays outside the tolerance or, with that given, the least total of moves."""
    n = len(hoops)
    # Columns: ups, downs, misses, start of the line, its slope.
    cost = np.zeros(3 * n + 2)
    cost[slice(2 * n, 3 * n) if outside is None else slice(0, 2 * n)] = 1
    rows, right = [], []
    for index, hoop in enumerate(hoops):
        row = np.zeros(3 * n + 2)
        row[index], row[n + index], row[3 * n], row[3 * n + 1] = 1, -1, -1, -hoop.at
        for sign in (1, -1):
            signed = sign * row
            signed[2 * n + index] = -1
            rows.append(signed)
            right.append(tolerance - sign * hoop.height)
    if outside is not None:
        row = np.zeros(3 * n + 2)
        row[2 * n : 3 * n] = 1
        rows.append(row)
        right.append(outside + 1e-3)
    bounds = [(0, hoop.up) for hoop in hoops] + [(0, hoop.down) for hoop in hoops] + [(0, None)] * n
    tilt = (None, None) if slope is None else (slope, slope)
    return linprog(cost, A_ub=np.array(rows), b_ub=np.array(right), bounds=[*bounds, (None, None), tilt]).fun


def solved(hoops, tolerance, slope) -> RidgePlan:
    plan = straighten(hoops, tolerance=tolerance, slope=slope)
    return plan if plan.worst is None else nearest(hoops, tolerance=tolerance, slope=slope)


@given(HOOPS, st.integers(0, 15), SLOPES, STEPS)
def test_after_the_moves_no_hoop_is_further_off_than_is_said(hoops, tolerance, slope, step):
    plan = solved(hoops, tolerance, slope)
    moves = in_steps(hoops, plan, tolerance=tolerance, step=step)
    for hoop, exact, move in zip(hoops, plan.moves, moves.hoops, strict=True):
        line = plan.start + plan.slope * hoop.at
        assert move.move % step == 0
        assert -hoop.down - DUST <= move.move <= hoop.up + DUST
        assert abs(hoop.height + float(move.move) - line) <= tolerance + moves.miss + DUST
        # A step or less from what the program asks for.
        assert abs(float(move.move) - exact) <= float(step) + 2 * DUST


@given(HOOPS, st.integers(1, 15), SLOPES, STEPS)
def test_steps_spoil_nothing_where_the_room_is_in_whole_steps(hoops, tolerance, slope, step):
    """A step is no wider than the band, so one always lies in it: rounding puts no hoop outside."""
    whole = [SetHoop(hoop.at, hoop.height, float(step * int(hoop.down)), float(step * int(hoop.up))) for hoop in hoops]
    plan = straighten(whole, tolerance=tolerance, slope=slope)
    if plan.worst is None:
        assert in_steps(whole, plan, tolerance=tolerance, step=step).miss == 0


@given(HOOPS, st.integers(0, 5), STEPS)
def test_the_steps_are_the_fewest(hoops, tolerance, step):
    """Every number of steps that the travel allows is tried."""
    plan = solved(hoops, tolerance, None)
    moves = in_steps(hoops, plan, tolerance=tolerance, step=step)
    for hoop, exact, move in zip(hoops, plan.moves, moves.hoops, strict=True):
        line = plan.start + plan.slope * hoop.at
        reach = max(tolerance, abs(hoop.height + exact - line)) + DUST
        tried = range(-int((hoop.down + DUST) / float(step)), int((hoop.up + DUST) / float(step)) + 1)
        off = {count: abs(hoop.height + count * float(step) - line) for count in tried}
        near = [abs(count) for count in tried if off[count] <= reach]
        if near:
            assert abs(move.move) == min(near) * step
        else:
            assert abs(move.after) == pytest.approx(min(off.values()), abs=1e-6)


@given(HOOPS, st.integers(0, 8), SLOPES)
def test_the_least_outside_and_then_the_least_moving(hoops, tolerance, slope):
    plan = nearest(hoops, tolerance=tolerance, slope=slope)
    misses = [
        max(0.0, abs(hoop.height + move - plan.start - plan.slope * hoop.at) - tolerance)
        for hoop, move in zip(hoops, plan.moves, strict=True)
    ]
    least = least_outside(hoops, tolerance, slope)
    assert sum(misses) == pytest.approx(least, abs=2e-3)
    assert plan.total == pytest.approx(least_outside(hoops, tolerance, slope, least), abs=0.05)
    assert plan.short == max(misses)


def test_one_stuck_hoop_stays_off_alone():
    """Making the worst miss smallest would leave all five 40 mm outside."""
    hoops = [SetHoop(1200.0 * i, 2300.0 if i == 2 else 2200.0, 0, 0) for i in range(5)]
    plan = nearest(hoops, tolerance=10, slope=0.0)
    moves = in_steps(hoops, plan, tolerance=10, step=Decimal(1))
    assert [abs(move.after) > 10 + DUST for move in moves.hoops] == [False, False, True, False, False]
    assert moves.miss == pytest.approx(80, abs=1e-2)


def test_no_hoop_is_brought_nearer_than_the_plan_brings_it():
    """20 mm above the line, and the plan takes it down by 5, though it could go 15: five steps of a millimetre."""
    plan = RidgePlan((-5.0,), 2200.0, 0.0, 13.0, 0)
    moves = in_steps([SetHoop(0, 2220.0, 15, 0)], plan, tolerance=2, step=Decimal(1))
    assert moves.total == 5
    assert moves.miss == pytest.approx(13)


def test_a_step_wider_than_the_band_is_owned_up_to():
    hoops = [SetHoop(0, 2200.0, 9, 9), SetHoop(1200, 2202.4, 9, 0), SetHoop(2400, 2200.0, 0, 0)]
    plan = straighten(hoops, tolerance=0, slope=0.0)
    moves = in_steps(hoops, plan, tolerance=0, step=Decimal(1))
    assert [move.move for move in moves.hoops] == [0, -2, 0]
    assert moves.miss == pytest.approx(0.4, abs=1e-6)
    assert moves.total == 2


def test_a_step_that_brings_nothing_nearer_is_not_made():
    """Half a step off to either side: the hoop stays. A step and a half: one step, not two."""
    hoops = [SetHoop(0, 2200.5, 9, 9), SetHoop(1200, 2199.5, 9, 9), SetHoop(2400, 2201.5, 9, 9)]
    plan = RidgePlan((-0.5, 0.5, -1.5), 2200.0, 0.0, 0.0, None)
    moves = in_steps(hoops, plan, tolerance=0, step=Decimal(1))
    assert [move.move for move in moves.hoops] == [0, 0, -1]
    assert moves.miss == 0.5


def test_a_step_of_nothing_is_refused():
    hoops = [SetHoop(0, 1, 0, 0)]
    with pytest.raises(ValueError, match="longer than zero"):
        in_steps(hoops, straighten(hoops, tolerance=1), tolerance=1, step=Decimal(0))
