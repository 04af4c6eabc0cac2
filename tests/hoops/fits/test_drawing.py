"""The drawing of the ridge: its words, its scale, and lines that cross no words."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.common.drawing import LETTER, LETTER_BREADTH
from farmbuild.hoops.fits.drawings import _BOLD, RidgeDrawing, _two_rows
from farmbuild.hoops.fits.sighted import HoopRow
from tests.size import examples

SVG = "{http://www.w3.org/2000/svg}"
ZERO = Decimal(0)


def ridge(offs: dict[int, int], *, hoops: int, moves: dict[int, int] | None = None) -> RidgeDrawing:
    """Hoops 1200 mm apart, ``offs`` mm above a level line, moved to it unless ``moves`` says how far."""
    rows = []
    for hoop in range(1, hoops + 1):
        off = Decimal(offs.get(hoop, 0))
        move = Decimal((moves or {}).get(hoop, -off))
        rows.append(
            HoopRow(
                hoop, 1200 * Decimal(hoop - 1), None, 2200 + off, ZERO, ZERO, Decimal(2200), off, move, off + move,
                abs(off + move), None,
            )
        )  # fmt: skip
    return RidgeDrawing(rows, Decimal(12), "a level line", "metric")


def parts(drawing: RidgeDrawing) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.svg()).find(f"{SVG}svg")


def words(drawing: RidgeDrawing) -> list[str]:
    return [text.text for text in parts(drawing).iter(f"{SVG}text")]


def test_moves_and_what_stays_off_stand_over_the_ridge():
    drawing = ridge({2: 30, 4: -25, 6: 60}, hoops=7, moves={6: -10})
    shown = words(drawing)
    assert {"2 down 30 mm", "4 up 25 mm", "6 down 10 mm, off"} <= set(shown)
    assert [text for text in shown if text.isdigit()] == ["1", "2", "3", "4", "5", "6", "7"]
    said = parts(drawing).find(f"{SVG}desc").text
    assert "hoop 2 at 2\u202f230 mm, down 30 mm" in said
    assert "hoop 6 at 2\u202f260 mm, down 10 mm, stays off" in said
    assert drawing.scale_words in said


def test_many_moves_are_numbers_alone():
    shown = words(ridge({hoop: 20 * (-1) ** hoop for hoop in range(1, 26)}, hoops=25))
    assert not any("mm" in text for text in shown)
    assert all(shown.count(str(hoop)) == 2 for hoop in range(1, 26, 2))


@pytest.mark.parametrize("off", [1, 12, 100, 4_000, 200_000])
def test_the_stated_scale_is_the_drawn_one(off):
    """Heights on the sheet over lengths on the sheet, for one millimetre of each."""
    drawing = ridge({2: off}, hoops=5, moves={2: 0})
    svg = parts(drawing)
    thin = next(line for line in svg.iter(f"{SVG}polyline") if line.get("class") == "seen")
    (x1, y1), (x2, y2) = [tuple(map(float, point.split(","))) for point in thin.get("points").split()[:2]]
    drawn = ((y1 - y2) / off) / ((x2 - x1) / 1200)
    assert drawn == pytest.approx(drawing.scale, rel=0.01)
    stated = drawing.scale if drawing.scale >= 1 else 1 / drawing.scale
    assert stated == 1 or f"{stated:,.0f} times" in drawing.scale_words


@examples(80)
@given(st.integers(2, 40).flatmap(lambda n: st.tuples(st.just(n), st.sets(st.integers(1, n), min_size=1))))
def test_no_line_crosses_words(given_hoops):
    hoops, moved = given_hoops
    drawing = ridge(dict.fromkeys(moved, 30), hoops=hoops)
    svg = parts(drawing)
    labels = [text for text in svg.iter(f"{SVG}text") if "mark" in text.get("class")]
    assert labels
    lines = [
        tuple(float(line.get(name)) for name in ("x1", "y1", "y2"))
        for line in svg.iter(f"{SVG}line")
        if line.get("class") == "thin" and line.get("x1") == line.get("x2")
    ]
    for text in labels:
        right, foot = float(text.get("x")), float(text.get("y"))
        breadth = len(text.text) * LETTER_BREADTH
        if "middle" in text.get("class"):
            right += breadth / 2
        left = right - breadth
        for x, y1, y2 in lines:
            crossed = left < x < right and min(y1, y2) < foot - LETTER / 2 < max(y1, y2)
            assert not crossed, (text.text, x)


def test_words_over_the_first_hoop_are_its_number_where_they_would_begin_too_far_left():
    shown = words(ridge({1: 30, 7: 30}, hoops=7))
    assert (shown.count("1"), "7 down 30 mm" in shown) == (2, True)


@pytest.mark.parametrize("fall", [0, 40, -40])
def test_the_band_is_the_tolerance_to_either_side_of_the_line(fall):
    rows = [replace(row, line=row.line + fall * at) for at, row in enumerate(ridge({2: 60}, hoops=4).rows)]
    drawing = RidgeDrawing(rows, Decimal(25), "a line", "metric")
    svg = parts(drawing)
    band = next(shape for shape in svg.iter() if "fill limit" in (shape.get("class") or ""))
    line = next(each for each in svg.iter(f"{SVG}line") if each.get("class") == "thin")
    points = [tuple(map(float, point.split(","))) for point in band.get("points").split()]
    x1, y1, x2, y2 = (float(line.get(name)) for name in ("x1", "y1", "x2", "y2"))
    half = 25 * drawing.scale * (x2 - x1) / 3600
    for (x, y), at in zip(points, [(x1, y1 + half), (x2, y2 + half), (x2, y2 - half), (x1, y1 - half)], strict=False):
        assert (x, y) == pytest.approx(at, abs=0.05)


@examples(80)
@given(st.lists(st.tuples(st.integers(0, 400), st.integers(1, 3)), max_size=25))
def test_numbers_in_two_rows_are_left_out_only_where_there_is_no_room(asked):
    """3 from the words before in its row, and its line 2 clear of the number before."""
    asked.sort()
    at, labels = [place / 8 for place, _ in asked], ["8" * letters for _, letters in asked]
    levels = _two_rows(at, labels)
    for i, level in enumerate(levels):
        half = len(labels[i]) * _BOLD / 2
        there = [(at[j], at[j] + len(labels[j]) * _BOLD / 2, levels[j]) for j in range(i) if levels[j] is not None]
        free = [row for row in (0, 1) if all(at[i] - half - end > 3 for _, end, of in there if of == row)]
        clear = all(at[i] - place >= half + 2 for place, _, _ in there)
        assert level == (free[0] if free and clear else None)


@examples(40)
@given(st.sets(st.integers(1, 120), min_size=2))
def test_numbers_under_the_drawing_are_as_many_as_there_is_room_for(hoops):
    drawing = ridge({}, hoops=max(hoops))
    drawing = replace(drawing, rows=[row for row in drawing.rows if row.hoop in hoops])
    texts = {int(text.text): float(text.get("x")) for text in parts(drawing).iter(f"{SVG}text") if text.text.isdigit()}
    first, a_mm = min(hoops), (texts[max(texts)] - texts[min(texts)]) / max(1, max(texts) - min(texts))
    right = float("-inf")
    for hoop in sorted(hoops):
        half = len(str(hoop)) * LETTER_BREADTH / 2
        left = texts[first] + (hoop - first) * a_mm - half
        if abs(left - right - 5) > 0.05 and len(texts) > 1:
            assert (hoop in texts) == (left >= right + 5), hoop
        right = left + 2 * half if hoop in texts else right


@examples(60)
@given(st.lists(st.integers(-(10**7), 10**7), min_size=1, max_size=30), st.integers(0, 200))
def test_the_drawing_fits_a_phone_whatever_the_heights(heights, tolerance):
    drawing = ridge(dict(enumerate(heights, 1)), hoops=len(heights), moves=dict.fromkeys(range(1, 31), 0))
    drawing = RidgeDrawing(drawing.rows, Decimal(tolerance), "a level line", "metric")
    wide, high = (float(figure) for figure in parts(drawing).get("viewBox").split()[2:])
    assert wide <= 400
    assert high <= 320
    assert "1" in words(drawing)
