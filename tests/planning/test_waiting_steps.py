"""Steps that wait for steps, against every path between them."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.work.order import Wait, circle_in, in_order, waits_for, without
from tests.size import examples

STEPS = "abcde"
PAIRS = list(permutations(STEPS, 2))
WAITS = st.lists(st.builds(lambda pair, lag: Wait(*pair, lag), st.sampled_from(PAIRS), st.integers(0, 4)), max_size=7)
FORWARD = WAITS.map(lambda waits: [Wait(max(w.step, w.after), min(w.step, w.after), w.lag) for w in waits])


def longest(waits) -> dict[tuple[str, str], int]:
    """By pair that waits, straight or through others, the most minutes between; of no circles."""
    lags: dict[tuple[str, str], int] = {}
    for wait in waits:
        lags[wait.step, wait.after] = max(wait.lag, lags.get((wait.step, wait.after), 0))
    for middle in STEPS:
        for step, after in PAIRS:
            if (step, middle) in lags and (middle, after) in lags:
                through = lags[step, middle] + lags[middle, after]
                lags[step, after] = max(through, lags.get((step, after), 0))
    return lags


def reached(waits) -> set[tuple[str, str]]:
    found = {(wait.step, wait.after) for wait in waits}
    for middle in STEPS:
        found |= {(a, b) for a, m in found if m == middle for n, b in found if n == middle}
    return found


@given(WAITS)
def test_who_waits_for_whom_and_in_circles(waits):
    pairs = reached(waits)
    for step, other in PAIRS:
        assert waits_for(step, other, waits) == ((step, other) in pairs)
    circle = circle_in(waits)
    assert bool(circle) == any((step, step) in pairs for step in STEPS)
    straight = {(wait.step, wait.after) for wait in waits}
    assert len(set(circle)) == len(circle)
    assert all(pair in straight for pair in zip(circle, [*circle[1:], *circle[:1]], strict=True))
    if circle:
        with pytest.raises(ValueError, match="circle"):
            in_order(STEPS, waits)
        with pytest.raises(ValueError, match="circle"):
            without(waits, "a")


@examples(60)
@given(st.permutations(STEPS), st.integers(2, 5), FORWARD)
def test_each_after_what_it_waits_for_and_else_as_given(given_, many, waits):
    """The first of all orders that keep every wait, read by the places of the steps as they are given."""
    steps = given_[:many]
    held = [(wait.step, wait.after) for wait in waits if wait.step in steps and wait.after in steps]
    orders = (order for order in permutations(steps) if all(order.index(a) > order.index(b) for a, b in held))
    assert in_order(steps, waits) == list(next(orders))


@given(FORWARD, st.sets(st.sampled_from(STEPS), max_size=3))
def test_a_step_that_is_gone_leaves_the_waits_and_lags_of_all_others(waits, gone):
    left = without(waits, gone)
    assert len({(wait.step, wait.after) for wait in left}) == len(left)
    assert longest(left) == {pair: lag for pair, lag in longest(waits).items() if gone.isdisjoint(pair)}
