"""One stick cut: nothing of its length or its cost is lost."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from farmbuild.stock.cut_layout import COST_STEP, LayoutError, lay_out, share_cost
from tests.factories import FOOT, INCH

KERF = Decimal("3.175")


def cut(*pieces, stick=FOOT * 10, kerf=KERF, keep_from=FOOT * 2, keep=False):
    return lay_out(stick=stick, pieces=pieces, kerf=kerf, keep_from=keep_from, keep=keep)


def test_saw_cuts_between_pieces_and_before_what_is_left():
    layout = cut(FOOT * 2, FOOT * 2, FOOT * 2)
    assert layout.kerfs == 3
    assert layout.offcut == 3048_000000 - 3 * 609_600000 - 3 * 3_175000
    assert layout.scrap == 0


def test_no_saw_cut_after_the_one_that_ends_the_stick():
    half = (FOOT * 10 - KERF) / 2
    layout = cut(half, half)
    assert (layout.kerfs, layout.offcut, layout.scrap) == (1, 0, 0)


def test_a_sliver_no_wider_than_the_saw_is_dust():
    layout = cut(FOOT * 10 - KERF)
    assert (layout.kerfs, layout.offcut, layout.scrap) == (0, 0, 3_175000)


def test_a_short_end_is_scrap_unless_kept_by_hand():
    assert cut(FOOT * 9).scrap == cut(FOOT * 9, keep=True).offcut == 304_800000 - 3_175000
    assert cut(FOOT * 9, keep=True).scrap == 0


def test_pieces_longer_than_the_stick_say_by_how_much():
    with pytest.raises(LayoutError) as told:
        cut(FOOT * 5, FOOT * 5)
    assert told.value.over == KERF


def test_three_equal_pieces_of_ten_coins():
    """10 / 3 = 3.3333 and one step over: two lots, and the sum is 10."""
    parts = share_cost(cut(INCH * 40, INCH * 40, INCH * 40, kerf=Decimal(0)), Decimal(10))
    assert [(part.each, part.cost) for part in parts] == [(1, Decimal("3.3334")), (2, Decimal("3.3333"))]


lengths = st.integers(1, 6_000_000_000).map(lambda nm: Decimal(nm) / 10**6)


@given(
    stick=lengths,
    pieces=st.lists(lengths, min_size=1, max_size=12),
    kerf=st.integers(0, 10_000_000).map(lambda nm: Decimal(nm) / 10**6),
    keep=st.booleans(),
    cost=st.integers(0, 10**8).map(lambda steps: steps * COST_STEP),
)
def test_length_and_cost_are_conserved(stick, pieces, kerf, keep, cost):
    pieces = [piece % (stick / len(pieces)) for piece in pieces]
    pieces = [piece.quantize(Decimal("0.000001")) for piece in pieces]
    assume(all(pieces))
    try:
        layout = cut(*pieces, stick=stick, kerf=kerf, keep=keep)
    except LayoutError as error:
        assert sum(pieces) + kerf * (len(pieces) - 1) - stick == error.over > 0
        return
    used = sum(layout.pieces) + layout.kerfs * layout.kerf
    assert layout.stick == used + layout.offcut + layout.scrap
    assert layout.kerfs in (len(pieces) - 1, len(pieces))
    parts = share_cost(layout, cost)
    assert sum(part.each * part.cost for part in parts) == cost
    assert sum(part.each * part.length for part in parts) == sum(layout.pieces) + layout.offcut
    over = sum(layout.pieces) + layout.offcut
    for part in parts:
        # Within one step of its share by length.
        assert abs(part.cost * over - cost * part.length) <= COST_STEP * over
