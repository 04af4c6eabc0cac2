"""Published instances, instances made as published sets were, and one kind that no rounding argument settles."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from farmbuild.planning.cutting import Piece, Stock, plan_cuts
from tests.planning.cutting_cases import (
    faults,
    hard_mix,
    published,
    rows,
    scholl_even,
    scholl_wide,
    schwerin,
    splits_exactly,
    triplets,
    uniform,
    waescher,
    without_round_up,
)
from tests.where import NO_OPEN_DATA

INSTANCES = published()
Made = tuple[list[int], int]


@pytest.mark.skipif(not INSTANCES, reason=NO_OPEN_DATA)
@pytest.mark.parametrize(
    ("pieces", "stock", "optimum"), [case[1:] for case in INSTANCES], ids=[case[0] for case in INSTANCES]
)
def test_published_optimum_is_proven(pieces: list[Piece], stock: list[Stock], optimum: int) -> None:
    plan = plan_cuts(pieces, stock)
    assert (plan.cost, plan.bound, plan.optimal) == (optimum, optimum, True)
    assert faults(pieces, stock, plan) == []


@pytest.mark.parametrize(
    ("make", "seed"),
    [
        *((lambda seed, n=n: uniform(n, seed), seed) for n in (120, 250, 500, 1000) for seed in (1, 2)),
        *((lambda seed, n=n: schwerin(n, seed), seed) for n in (100, 120) for seed in (1, 2, 3)),
        *((lambda seed, n=n: hard_mix(n, seed), seed) for n in (160, 200) for seed in (1, 2)),
        (lambda seed: scholl_even(200, 3, 0.5, seed), 1),
        (lambda seed: scholl_even(500, 7, 0.2, seed), 1),
        (lambda seed: waescher(100, 100, 3000, seed), 1),
        (lambda seed: waescher(60, 15, 2500, seed), 1),
        (scholl_wide, 1),
    ],
)
def test_instances_made_as_published_sets_are_proven(make: Callable[[int], Made], seed: int) -> None:
    pieces, stock = rows(*make(seed))
    plan = plan_cuts(pieces, stock, time_limit=60, effort=10)
    assert plan.optimal, plan.method
    assert faults(pieces, stock, plan) == []


@pytest.mark.parametrize(("n", "seed"), [(60, 14), (60, 23), (120, 1), (249, 2), (501, 3)])
def test_triplets_fill_every_stick(n: int, seed: int) -> None:
    """The optimum is known from how they are made: a third of the number of pieces."""
    pieces, stock = rows(*triplets(n, seed))
    plan = plan_cuts(pieces, stock, time_limit=60, effort=10)
    assert (plan.cost, plan.bound) == (n // 3, n // 3)
    assert all(layout.remainder == 0 for layout in plan.layouts)


@pytest.mark.parametrize(
    ("threes", "stick", "seed"), [(5, 10_000, 1), (5, 10_000, 2), (10, 20_000, 0), (10, 20_000, 1)]
)
def test_optimum_one_above_a_whole_fractional_optimum_is_proven(threes: int, stick: int, seed: int) -> None:
    """Length alone asks for threes + 3 sticks; a plain search for an exact cover says whether that can be."""
    lengths, stick = without_round_up(threes, stick, seed)
    assert sum(lengths) == (threes + 3) * stick
    expected = threes + 3 + (not splits_exactly(lengths, stick))
    pieces, stock = rows(lengths, stick)
    plan = plan_cuts(pieces, stock, time_limit=60, effort=10)
    assert (plan.cost, plan.bound, plan.optimal) == (expected, expected, True)
    assert faults(pieces, stock, plan) == []


def test_the_kind_above_does_hold_cases_that_rounding_cannot_settle() -> None:
    assert not splits_exactly(*without_round_up(5, 10_000, 1))
