"""Cut plans of random small shops against trying everything, and of larger ones against an independent checker."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from contextlib import redirect_stdout

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from farmbuild.planning.cutting import Piece, Stock, plan_cuts
from tests.planning.cutting_cases import faults, shop, try_everything
from tests.size import examples
from tests.where import ROOT


@st.composite
def small_shops(draw: st.DrawFn) -> tuple[list[Piece], list[Stock], int]:
    fine = draw(st.booleans())
    unit = 999_983 if fine else 1
    odd = st.integers(0, 5) if fine else st.just(0)
    pieces = [
        Piece(draw(st.integers(1, 12)) * unit + draw(odd), draw(st.integers(0, 3)), f"piece {n}")
        for n in range(draw(st.integers(1, 4)))
    ]
    stock = [
        Stock(
            draw(st.integers(4, 20)) * unit + draw(odd),
            draw(st.none() | st.integers(0, 3)),
            draw(st.just(0) | st.integers(0, 40)),
            f"stick {n}",
        )
        for n in range(draw(st.integers(0, 4)))
    ]
    return pieces, stock, draw(st.integers(0, 2))


@examples(150)
@given(small_shops(), st.sampled_from([0, 2, 5]))
@example(([Piece(6, 2, "a"), Piece(3, 3, "b")], [Stock(10, 1, 8, "only")], 0), 0)
@example(([Piece(7, 2, "a")], [Stock(7, None, 0, "free"), Stock(20, 1, 5, "dear")], 1), 0)
def test_equal_to_trying_everything(case: tuple[list[Piece], list[Stock], int], keep_from: int) -> None:
    pieces, stock, kerf = case
    unmet, cost = try_everything(pieces, stock, kerf)
    plan = plan_cuts(pieces, stock, kerf=kerf, keep_from=keep_from)
    assert faults(pieces, stock, plan, kerf=kerf, keep_from=keep_from) == []
    assert (sum(p.quantity for p in plan.unmet), plan.cost, plan.bound) == (unmet, cost, cost)
    assert plan.optimal


@st.composite
def larger_shops(draw: st.DrawFn) -> tuple[list[Piece], list[Stock], int]:
    unit = draw(st.sampled_from([1, 1, 1_000_000]))
    odd = st.integers(0, unit - 1)
    pieces = [
        Piece(draw(st.integers(100, 3000)) * unit + draw(odd), draw(st.integers(0, 60)), f"piece {n}")
        for n in range(draw(st.integers(1, 12)))
    ]
    stock = [
        Stock(
            draw(st.integers(100, 6500)) * unit + draw(odd),
            draw(st.none() | st.integers(0, 9)),
            draw(st.integers(0, 5000)),
            f"stick {n}",
        )
        for n in range(draw(st.integers(1, 12)))
    ]
    return pieces, stock, draw(st.integers(0, 5 * unit))


@examples(40)
@given(larger_shops(), st.integers(0, 500))
def test_larger_plans_hold_together(case: tuple[list[Piece], list[Stock], int], keep_from: int) -> None:
    pieces, stock, kerf = case
    plan = plan_cuts(pieces, stock, kerf=kerf, keep_from=keep_from, time_limit=60, effort=0.5)
    assert faults(pieces, stock, plan, kerf=kerf, keep_from=keep_from) == []
    longest = max((s.length for s in stock if s.quantity != 0), default=0)
    unmet = {p.label: p.quantity for p in plan.unmet}
    for piece in pieces:
        if piece.length > longest and piece.quantity:
            assert unmet[piece.label] == piece.quantity
    boundless = max((s.length for s in stock if s.quantity is None), default=0)
    assert all(p.length > boundless for p in plan.unmet)


@examples(25)
@given(
    st.lists(st.tuples(st.integers(50, 1500), st.integers(1, 9)), min_size=1, max_size=8),
    st.integers(1500, 4000),
    st.integers(1, 6),
)
def test_a_wider_kerf_never_costs_less(sizes: list[tuple[int, int]], stick: int, kerf: int) -> None:
    pieces = [Piece(n, q, str(k)) for k, (n, q) in enumerate(sizes)]
    stock = [Stock(stick, None, 1, "s")]
    thin = plan_cuts(pieces, stock, kerf=0)
    thick = plan_cuts(pieces, stock, kerf=kerf)
    assert thick.cost >= thin.bound
    # A kerf folded into pieces and stick is the same problem.
    folded = plan_cuts(
        [Piece(p.length + kerf, p.quantity, p.label) for p in pieces], [Stock(stick + kerf, None, 1, "s")]
    )
    assert max(folded.bound, thick.bound) <= min(folded.cost, thick.cost)


def test_the_checker_sees_what_is_wrong() -> None:
    pieces, stock = [Piece(60, 2, "a")], [Stock(125, None, 3, "s")]
    plan = plan_cuts(pieces, stock, kerf=5)
    assert faults(pieces, stock, plan, kerf=5) == []
    assert faults(pieces, stock, plan, kerf=6)
    assert faults([Piece(60, 3, "a")], stock, plan, kerf=5)
    assert faults(pieces, [Stock(125, 0, 3, "s")], plan, kerf=5)
    assert faults(pieces, [Stock(125, None, 4, "s")], plan, kerf=5)
    assert faults(pieces, [Stock(121, None, 3, "s")], plan, kerf=5)


SCRIPT = """
from tests.planning.cutting_cases import rows, shop, triplets, without_round_up
from farmbuild.planning.cutting import plan_cuts
print(repr(plan_cuts(*shop(20, 3, 60, 400, seed=7), kerf=3, keep_from=300, time_limit=300, effort=1)))
print(repr(plan_cuts(*shop(25, 2, 30, 300, seed=8, unit=1000003), kerf=3, time_limit=300, effort=1)))
print(repr(plan_cuts(*rows(*triplets(120, 4)), time_limit=300, effort=3)))
print(repr(plan_cuts(*rows(*without_round_up(10, 20000, 0)), time_limit=300, effort=3)))
"""


def test_two_processes_give_the_same_plan_to_the_letter() -> None:
    """This one and another, each with an order of sets of its own."""
    here = io.StringIO()
    with redirect_stdout(here):
        exec(SCRIPT, {})
    other = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        cwd=ROOT,
        env=os.environ | {"PYTHONHASHSEED": "20202", "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "clock" not in other
    assert other.count("CutPlan(") == 4
    assert here.getvalue() == other


@pytest.mark.parametrize("seed", [1, 2])
def test_order_of_rows_changes_neither_cost_nor_bound_of_a_proven_plan(seed: int) -> None:
    pieces, stock = shop(5, 2, 6, 40, seed=seed)
    plan = plan_cuts(pieces, stock)
    turned = plan_cuts(pieces[::-1], stock[::-1])
    assert plan.optimal and turned.optimal
    assert (plan.cost, plan.bound) == (turned.cost, turned.bound)
