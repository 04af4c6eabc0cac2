"""One stick cut: nothing of its length or its cost is lost."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from farmbuild.measure import share_whole
from farmbuild.stock.cut_layout import LayoutError, lay_out, parts_of
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


def test_equal_pieces_are_one_part_and_bear_what_the_saw_takes():
    parts = parts_of(cut(INCH * 40, INCH * 40, INCH * 36))
    assert [(part.each, part.length) for part in parts] == [(2, 1016_000000), (1, 914_400000)]
    assert parts[0].weight * 36 == parts[1].weight * 80


def test_the_kept_end_bears_its_own_length_alone():
    layout = cut(FOOT * 3)
    piece, end = parts_of(layout)
    assert (piece.offcut, end.offcut, end.length) == (False, True, layout.offcut)
    assert end.weight * layout.stick == layout.offcut * (piece.weight + end.weight)


lengths = st.integers(1, 6_000_000_000).map(lambda nm: Decimal(nm) / 10**6)


@given(
    stick=lengths,
    pieces=st.lists(lengths, min_size=1, max_size=12),
    kerf=st.integers(0, 10_000_000).map(lambda nm: Decimal(nm) / 10**6),
    keep=st.booleans(),
    coins=st.integers(0, 10**8),
)
def test_length_and_cost_are_conserved(stick, pieces, kerf, keep, coins):
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
    parts = parts_of(layout)
    assert sum(part.each * part.length for part in parts) == sum(layout.pieces) + layout.offcut
    shares = share_whole(coins, [part.weight for part in parts])
    assert sum(shares) == coins
    made, waste = sum(layout.pieces), layout.stick - sum(layout.pieces) - layout.offcut
    for part, share in zip(parts, shares, strict=True):
        length = part.each * part.length
        bears = length if part.offcut else length + Fraction(length, made) * waste
        # Within one coin of what it bears of the stick.
        assert abs(share - coins * Fraction(bears) / layout.stick) < 1
