"""The ridge program against scipy's own linear programming."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from farmbuild.planning.ridge.plan import SetHoop, straighten


def reference(hoops, tolerance, slope):
    """Least total of moves by scipy, or None where nothing reaches the tolerance."""
    n = len(hoops)
    tilt = [] if slope is not None else [1]
    columns = 2 * n + 1 + len(tilt)
    rows, right = [], []
    for index, hoop in enumerate(hoops):
        row = np.zeros(columns)
        row[index], row[n + index], row[2 * n] = 1, -1, -1
        fixed = hoop.height - (slope or 0) * hoop.at
        if tilt:
            row[-1] = -hoop.at
        rows += [row, -row]
        right += [tolerance - fixed, tolerance + fixed]
    bounds = [(0, hoop.up) for hoop in hoops] + [(0, hoop.down) for hoop in hoops] + [(None, None)] * (1 + len(tilt))
    cost = np.concatenate([np.ones(2 * n), np.zeros(1 + len(tilt))])
    found = linprog(cost, A_ub=np.array(rows), b_ub=np.array(right), bounds=bounds)
    return found.fun if found.status == 0 else None


def least_miss(hoops, tolerance, slope):
    """How far outside the tolerance the worst hoop must stay, by scipy."""
    n = len(hoops)
    tilts = 0 if slope is not None else 1
    rows, right = [], []
    for index, hoop in enumerate(hoops):
        # Columns: move of each hoop, start of the line, its slope when free, the miss.
        row = np.zeros(n + 2 + tilts)
        row[index], row[n] = 1, -1
        if tilts:
            row[n + 1] = -hoop.at
        fixed = hoop.height - (slope or 0) * hoop.at
        for sign in (1, -1):
            signed = sign * row
            signed[-1] = -1
            rows.append(signed)
            right.append(tolerance - sign * fixed)
    bounds = [(-hoop.down, hoop.up) for hoop in hoops] + [(None, None)] * (1 + tilts) + [(0, None)]
    return linprog(np.eye(n + 2 + tilts)[-1], A_ub=np.array(rows), b_ub=np.array(right), bounds=bounds).fun


HOOPS = st.lists(st.tuples(st.integers(-60, 60), st.integers(0, 80), st.integers(0, 80)), min_size=1, max_size=12).map(
    lambda rows: [SetHoop(1200.0 * i, 2400.0 + h, d, u) for i, (h, d, u) in enumerate(rows)]
)


@given(HOOPS, st.integers(0, 15), st.sampled_from([None, 0.0, 0.01]))
def test_least_total_adjustment(hoops, tolerance, slope):
    plan = straighten(hoops, tolerance=tolerance, slope=slope)
    least = reference(hoops, tolerance, slope)
    assert (least is None) == (plan.worst is not None)
    assert plan.short == pytest.approx(least_miss(hoops, tolerance, slope), abs=1e-4)
    if least is not None:
        assert plan.total == pytest.approx(least, abs=1e-4)
    for hoop, move in zip(hoops, plan.moves, strict=True):
        assert -hoop.down - 1e-6 <= move <= hoop.up + 1e-6
        line = plan.start + plan.slope * hoop.at
        assert abs(hoop.height + move - line) <= tolerance + plan.short + 1e-4
    if plan.worst is not None:
        hoop, move = hoops[plan.worst], plan.moves[plan.worst]
        off = abs(hoop.height + move - plan.start - plan.slope * hoop.at)
        assert off == pytest.approx(tolerance + plan.short, abs=1e-6)
    else:
        assert plan.short == 0


def test_one_high_hoop_is_pushed_down():
    hoops = [SetHoop(1200.0 * i, 2430.0 if i == 2 else 2400.0, 50, 50) for i in range(5)]
    assert straighten(hoops, tolerance=0, slope=0).moves == pytest.approx((0, 0, -30, 0, 0), abs=1e-6)


def test_a_hoop_without_room_is_named():
    hoops = [SetHoop(1200.0 * i, 2460.0 if i == 2 else 2400.0, 10, 0) for i in range(5)]
    plan = straighten(hoops, tolerance=5, slope=0)
    assert plan.worst is not None
    assert plan.short == pytest.approx(20, abs=1e-3)


def test_nothing_to_sight_is_refused():
    with pytest.raises(ValueError, match="no hoops"):
        straighten([], tolerance=1)
    with pytest.raises(ValueError, match="below zero"):
        straighten([SetHoop(0, 1, -0.5, 0)], tolerance=1)
    with pytest.raises(ValueError, match="below zero"):
        straighten([SetHoop(0, 1, 0, -0.5)], tolerance=1)
    with pytest.raises(ValueError, match="below zero"):
        straighten([SetHoop(0, 1, 0, 0)], tolerance=-0.5)
