"""What a cut plan promises, rule by rule."""

from __future__ import annotations

from typing import Any

import pytest

from farmbuild.planning.cutting import Layout, Offcut, Piece, Stock, plan_cuts
from farmbuild.planning.cutting.problem import Bin, Pattern, Problem
from farmbuild.planning.cutting.stock import place, sort_kinds
from tests.planning.cutting_cases import WORKED_OPTIMUM, WORKED_STICK, WORKED_WIDTHS, faults, shop


def test_worked_example_takes_73_sticks() -> None:
    pieces = [Piece(n, q, str(n)) for n, q in WORKED_WIDTHS.items()]
    stock = [Stock(WORKED_STICK, None, 1, "roll")]
    plan = plan_cuts(pieces, stock)
    assert (plan.cost, plan.bound, plan.optimal, plan.gap) == (WORKED_OPTIMUM, WORKED_OPTIMUM, True, 0.0)
    assert sum(layout.times for layout in plan.layouts) == WORKED_OPTIMUM
    assert faults(pieces, stock, plan) == []


def test_kerf_lies_between_cuts_and_not_behind_one_that_ends_the_stick() -> None:
    exact = plan_cuts([Piece(100, 3, "a")], [Stock(306, None, 1, "s")], kerf=3)
    assert exact.layouts == (Layout("s", 306, ("a", "a", "a"), 1, 0),)
    short = plan_cuts([Piece(100, 3, "a")], [Stock(305, None, 1, "s")], kerf=3)
    assert short.cost == 2


@pytest.mark.parametrize(("stick", "remainder"), [(206, 0), (203, 0), (205, 0), (207, 1), (216, 10)])
def test_last_kerf_may_run_off_the_end(stick: int, remainder: int) -> None:
    plan = plan_cuts([Piece(100, 2, "a")], [Stock(stick, None, 1, "s")], kerf=3)
    assert plan.layouts == (Layout("s", stick, ("a", "a"), 1, remainder),)


def test_offcuts_of_at_least_the_length_to_keep_return_to_stock() -> None:
    pieces, stock = [Piece(70, 3, "a"), Piece(100, 1, "b")], [Stock(100, None, 5, "s")]
    assert plan_cuts(pieces, stock, keep_from=30).offcuts == (Offcut(30, 3, "s"),)
    assert plan_cuts(pieces, stock, keep_from=31).offcuts == ()
    assert plan_cuts(pieces, stock, keep_from=0).offcuts == (Offcut(30, 3, "s"),)


def test_stock_on_hand_is_used_where_that_costs_less() -> None:
    pieces = [Piece(90, 2, "a")]
    owned = Stock(100, 1, 0, "owned")
    dear = plan_cuts(pieces, [Stock(180, None, 10, "new"), Stock(100, 2, 6, "dear")])
    assert (dear.cost, [n.stock_ref for n in dear.layouts]) == (10, ["new"])
    plan = plan_cuts(pieces, [Stock(100, None, 10, "new"), owned])
    assert plan.cost == 10
    assert sorted(n.stock_ref for n in plan.layouts) == ["new", "owned"]


def test_stock_on_hand_goes_first_at_equal_cost_and_the_shortest_that_does() -> None:
    stock = [Stock(500, None, 7, "new"), Stock(400, 1, 7, "long"), Stock(300, 1, 7, "short")]
    plan = plan_cuts([Piece(250, 1, "a")], stock)
    assert [n.stock_ref for n in plan.layouts] == ["short"]


def test_the_shortest_free_stick_that_serves_is_taken() -> None:
    stock = [Stock(1000, 4, 0, "long"), Stock(260, 1, 0, "short"), Stock(1200, None, 9, "new")]
    plan = plan_cuts([Piece(250, 1, "a")], stock)
    assert (plan.cost, [n.stock_ref for n in plan.layouts]) == (0, ["short"])


def test_each_filling_ends_on_the_shortest_stick_that_serves() -> None:
    """Of sticks on hand that cost the same: the 5 moves to the stick of 5, which makes room for the 9 on that of 9,
    though the 9 was looked at first."""
    problem = Problem((10, 9, 5), (1, 1, 1), (Bin(5, 0, 1), Bin(9, 0, 1), Bin(10, 0, 2)))
    kinds = sort_kinds(problem)
    kind = {capacity: n for n, capacity in enumerate(b.capacity for b in kinds.problem.bins)}
    given = {Pattern(kind[10], ((0, 1),)): 1, Pattern(kind[10], ((1, 1),)): 1, Pattern(kind[9], ((2, 1),)): 1}
    assert place(problem, kinds, given) == {Pattern(n, ((2 - n, 1),)): 1 for n in range(3)}


def test_sticks_without_a_price_still_get_a_good_plan() -> None:
    pieces = [Piece(n, q, str(n)) for n, q in WORKED_WIDTHS.items()]
    plan = plan_cuts(pieces, [Stock(WORKED_STICK, None, 0, "roll")])
    assert (plan.cost, plan.bound, plan.optimal) == (0, 0, True)
    assert sum(layout.times for layout in plan.layouts) == WORKED_OPTIMUM


def test_pieces_longer_than_every_stick_come_back_unmet() -> None:
    pieces = [Piece(101, 2, "long"), Piece(100, 1, "fits")]
    plan = plan_cuts(pieces, [Stock(100, None, 4, "s"), Stock(500, 0, 1, "none left")])
    assert plan.unmet == (Piece(101, 2, "long"),)
    assert (plan.cost, plan.optimal) == (4, True)


def test_when_stock_runs_out_as_many_pieces_as_can_be_are_served() -> None:
    pieces = [Piece(60, 2, "big"), Piece(30, 3, "small")]
    plan = plan_cuts(pieces, [Stock(100, 1, 8, "only")])
    assert plan.unmet == (Piece(60, 2, "big"),)
    assert plan.layouts == (Layout("only", 100, ("small",) * 3, 1, 10),)
    assert (plan.cost, plan.bound, plan.optimal) == (8, 8, True)


def test_only_pieces_too_long_for_the_sticks_without_limit_run_short() -> None:
    pieces = [Piece(150, 3, "long"), Piece(40, 9, "short")]
    stock = [Stock(200, 2, 1, "long lot"), Stock(100, None, 5, "new")]
    plan = plan_cuts(pieces, stock)
    assert plan.unmet == (Piece(150, 1, "long"),)
    assert faults(pieces, stock, plan) == []
    assert plan.optimal


def test_of_pieces_that_run_short_the_ones_left_out_make_the_rest_cheapest() -> None:
    pieces = [Piece(150, 1, "a"), Piece(190, 1, "b"), Piece(50, 1, "c")]
    plan = plan_cuts(pieces, [Stock(200, 1, 1, "lot"), Stock(60, None, 9, "new")])
    assert plan.unmet == (Piece(190, 1, "b"),)
    assert plan.cost == 1


def test_pieces_of_one_length_are_planned_together_and_keep_their_labels() -> None:
    pieces = [Piece(50, 3, "post"), Piece(50, 1, "brace"), Piece(50, 2, "post")]
    plan = plan_cuts(pieces, [Stock(100, None, 1, "s")])
    labels = sorted(label for n in plan.layouts for label in n.labels * n.times)
    assert labels == ["brace"] + ["post"] * 5
    assert plan.cost == 3


def test_longest_pieces_come_first_in_a_layout() -> None:
    plan = plan_cuts([Piece(20, 1, "c"), Piece(50, 1, "a"), Piece(30, 1, "b")], [Stock(100, None, 1, "s")])
    assert plan.layouts == (Layout("s", 100, ("a", "b", "c"), 1, 0),)


@pytest.mark.parametrize("stock", [[], [Stock(100, 0, 1, "gone")]])
def test_nothing_to_cut_from(stock: list[Stock]) -> None:
    plan = plan_cuts([Piece(10, 2, "a")], stock)
    assert (plan.layouts, plan.cost, plan.optimal, plan.unmet) == ((), 0, True, (Piece(10, 2, "a"),))


def test_nothing_to_cut() -> None:
    plan = plan_cuts([Piece(10, 0, "a")], [Stock(100, None, 1, "s")])
    assert (plan.layouts, plan.cost, plan.bound, plan.unmet) == ((), 0, 0, ())


@pytest.mark.parametrize("unit", [1, 25_400, 999_983])
def test_a_finer_grid_changes_nothing_but_the_numbers(unit: int) -> None:
    pieces, stock = shop(6, 2, 8, 40, seed=3, unit=unit)
    plan = plan_cuts(pieces, stock, kerf=3 * unit)
    coarse = plan_cuts(*shop(6, 2, 8, 40, seed=3), kerf=3)
    assert (plan.cost, plan.bound) == (coarse.cost, coarse.bound)
    assert [n.labels for n in plan.layouts] == [n.labels for n in coarse.layouts]


def test_lengths_with_no_common_grid_are_planned_exactly() -> None:
    """Two of each pair fill a stick to the last unit of 6.4e9; one unit more and they do not."""
    stick = 6_400_000_003
    firsts = [2_100_000_001 + 7_654_321 * k for k in range(12)]
    pieces = [Piece(n, 5, f"a{n}") for n in firsts] + [Piece(stick - n, 5, f"b{n}") for n in firsts]
    plan = plan_cuts(pieces, [Stock(stick, None, 1, "s")])
    assert (plan.cost, plan.bound) == (60, 60)
    shorter = [Stock(stick - 1, None, 1, "s")]
    plan = plan_cuts(pieces, shorter)
    assert plan.bound > 60
    assert faults(pieces, shorter, plan) == []


def test_quantities_of_a_million_million() -> None:
    pieces = [Piece(1380, 10**12, "a"), Piece(1710, 10**12 + 1, "b"), Piece(2200, 7, "c")]
    stock = [Stock(5600, None, 1, "s")]
    plan = plan_cuts(pieces, stock)
    assert faults(pieces, stock, plan) == []
    assert plan.cost - plan.bound <= 2


def test_progress_is_told_in_shares_and_words() -> None:
    told: list[tuple[float, str]] = []
    plan_cuts(*shop(20, 2, 20, 200, seed=1), progress=lambda share, doing: told.append((share, doing)))
    assert told
    assert all(0 <= share <= 1 and doing for share, doing in told)
    assert [share for share, _ in told] == sorted(share for share, _ in told)


def test_a_plan_cut_off_by_the_clock_says_so_and_is_still_whole() -> None:
    pieces, stock = shop(60, 4, 200, 3000, seed=5)
    plan = plan_cuts(pieces, stock, kerf=3, time_limit=0.001, effort=10)
    assert "clock" in plan.method
    assert not plan.optimal
    assert faults(pieces, stock, plan, kerf=3) == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"length": 0}, "piece 2 ('rail'): length"),
        ({"length": -5}, "piece 2 ('rail'): length"),
        ({"length": 2.5}, "piece 2 ('rail'): length"),
        ({"length": True}, "piece 2 ('rail'): length"),
        ({"length": 10**16}, "piece 2 ('rail'): length: give a whole number from 1 to 1e+15"),
        ({"quantity": -1}, "piece 2 ('rail'): quantity"),
        ({"quantity": 1.0}, "piece 2 ('rail'): quantity"),
        ({"quantity": True}, "piece 2 ('rail'): quantity"),
    ],
)
def test_a_bad_piece_is_named(change: dict[str, Any], says: str) -> None:
    bad = Piece(**{"length": 5, "quantity": 1, "label": "rail"} | change)
    with pytest.raises(ValueError) as error:
        plan_cuts([Piece(5, 1, "post"), bad], [Stock(100, None, 1, "s")])
    assert str(error.value).startswith(says)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"length": 0}, "stock row 1 ('yard'): length"),
        ({"length": 1.5}, "stock row 1 ('yard'): length"),
        ({"quantity": -1}, "stock row 1 ('yard'): quantity"),
        ({"quantity": False}, "stock row 1 ('yard'): quantity"),
        ({"unit_cost": -1}, "stock row 1 ('yard'): unit cost"),
        ({"unit_cost": 0.5}, "stock row 1 ('yard'): unit cost"),
    ],
)
def test_a_bad_stick_is_named(change: dict[str, Any], says: str) -> None:
    bad = Stock(**{"length": 5, "quantity": 1, "unit_cost": 1, "ref": "yard"} | change)
    with pytest.raises(ValueError) as error:
        plan_cuts([Piece(5, 1, "post")], [bad])
    assert str(error.value).startswith(says)


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ({"kerf": -1}, "kerf"),
        ({"kerf": 0.5}, "kerf"),
        ({"keep_from": True}, "shortest offcut"),
        ({"time_limit": 0}, "time limit"),
        ({"time_limit": float("nan")}, "time limit"),
        ({"effort": 0}, "effort"),
    ],
)
def test_a_bad_setting_is_named(setting: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError) as error:
        plan_cuts([Piece(5, 1, "post")], [Stock(5, None, 1, "s")], **setting)
    assert str(error.value).startswith(says)
