"""Drawings: escaping, scale, and where dimension lines fall."""

from __future__ import annotations

import math
from xml.etree import ElementTree

import pytest

from farmbuild.common.drawing import Drawing

SVG = "{http://www.w3.org/2000/svg}"


def parsed(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.svg()).find(f"{SVG}svg")


def lines(drawing: Drawing, css: str) -> list[tuple[float, ...]]:
    return [
        tuple(float(line.get(name)) for name in ("x1", "y1", "x2", "y2"))
        for line in parsed(drawing).iter(f"{SVG}line")
        if line.get("class") == css
    ]


def box(drawing: Drawing) -> list[float]:
    return [float(part) for part in parsed(drawing).get("viewBox").split()]


def test_words_from_people_are_escaped_everywhere():
    drawing = Drawing(100, 50, "<script>", 'a "quoted" & <b>')
    drawing.text(1, 1, "<i>5'</i>", 'x" onload="y')
    with drawing.link('/a/?b="c"&d', "<Label>"):
        drawing.rect(0, 0, 10, 10, 'q"')
    drawing.dimension(0, 0, 100, 0, "<em>")
    svg = drawing.svg()
    for raw in ("<script>", "<i>", "<em>", "<b>", "<Label>", 'onload="y'):
        assert raw not in svg
    root = parsed(drawing)
    assert root.find(f"{SVG}title").text == "<script>"
    assert root.find(f"{SVG}desc").text == 'a "quoted" & <b>'
    assert root.find(f"{SVG}a").get("href") == '/a/?b="c"&d'


def test_is_an_image_with_title_and_words():
    root = parsed(Drawing(100, 50, "Section", "12 ft wide"))
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == root.find(f"{SVG}title").get("id")
    assert root.get("aria-describedby") == root.find(f"{SVG}desc").get("id")


def test_links_stay_within_reach_of_a_screen_reader():
    """An image's children are hidden from screen readers (WAI-ARIA 1.2, children presentational)."""
    drawing = Drawing(100, 50, "Plan", "")
    with drawing.link("/houses/north/", "North"):
        drawing.rect(10, 10, 20, 20)
    root = parsed(drawing)
    assert root.get("role") == "group"
    link = root.find(f"{SVG}a")
    assert link.get("aria-label") == "North"
    assert [part.get("class") for part in link.findall(f"{SVG}rect")] == ["hit", "ink"]


def test_small_links_are_wide_enough_to_press():
    drawing = Drawing(1000, 500, "Plan", "")
    with drawing.link("/x/", "X"):
        drawing.rect(10, 10, 1, 1)
    hit = parsed(drawing).find(f"{SVG}a/{SVG}rect")
    assert float(hit.get("width")) >= 24
    assert float(hit.get("height")) >= 24


def test_one_scale_both_ways_and_y_upwards():
    drawing = Drawing(1000, 500, "t", "d")
    drawing.line(0, 0, 1000, 0)
    drawing.line(0, 0, 0, 500)
    (ax, ay, bx, by), (_, _, cx, cy) = lines(drawing, "ink")
    assert bx - ax == pytest.approx(1000 * drawing.scale, abs=0.02)
    assert ay == by
    assert ay - cy == pytest.approx(500 * drawing.scale, abs=0.02)
    assert cx == ax


@pytest.mark.parametrize("width, height", [(10, 5000), (30000, 10), (25, 25)])
def test_sheet_holds_whatever_is_drawn(width, height):
    drawing = Drawing(width, height, "t", "d")
    drawing.rect(0, 0, width, height)
    drawing.dimension(0, 0, width, 0, "7' 3 1/2\" · 2\u202f223 mm", -drawing.step)
    drawing.dimension(0, 0, 0, height, "7' 3 1/2\" · 2\u202f223 mm", drawing.step)
    left, top, wide, high = box(drawing)
    assert wide >= 360
    for x1, y1, x2, y2 in lines(drawing, "thin") + lines(drawing, "tick"):
        assert left <= min(x1, x2) and max(x1, x2) <= left + wide
        assert top <= min(y1, y2) and max(y1, y2) <= top + high


def test_dimension_line_lies_parallel_at_its_offset_with_extension_lines():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 4000, 0, "12'", -drawing.step)
    ext1, ext2, line = lines(drawing, "thin")
    step = drawing.step * drawing.scale
    # Below the model: y runs downwards on the sheet.
    assert line == pytest.approx((0, step, 4000 * drawing.scale, step), abs=0.02)
    for x, ext in ((0, ext1), (4000 * drawing.scale, ext2)):
        assert ext[0] == ext[2] == pytest.approx(x, abs=0.02)
        near, far = ext[1], ext[3]
        assert 0 < near < step < far, "starts short of the point, runs past the line"


def test_positive_offset_is_left_of_the_way():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 4000, 0, "12'", drawing.step)
    assert lines(drawing, "thin")[-1][1] == pytest.approx(-drawing.step * drawing.scale, abs=0.02)


def test_ends_carry_slanting_strokes_centred_on_them():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 4000, 0, "12'")
    for x, (x1, y1, x2, y2) in zip((0, 4000 * drawing.scale), lines(drawing, "tick"), strict=True):
        assert (x1 + x2) / 2 == pytest.approx(x, abs=0.02)
        assert abs(math.degrees(math.atan2(y2 - y1, x2 - x1))) == pytest.approx(45, abs=0.5)


def dimension_texts(drawing: Drawing) -> list[ElementTree.Element]:
    return [text for text in parsed(drawing).iter(f"{SVG}text") if "dim" in text.get("class").split()]


def test_text_stands_over_the_middle():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 4000, 0, "12'")
    (text,) = dimension_texts(drawing)
    assert float(text.get("x")) == pytest.approx(2000 * drawing.scale, abs=0.02)
    assert -8 < float(text.get("y")) < 0


@pytest.mark.parametrize("way", [(0, 0, 0, 4000), (0, 4000, 0, 0)])
def test_upright_text_reads_from_the_right_whichever_way_it_was_given(way):
    drawing = Drawing(4000, 4000, "t", "d")
    drawing.dimension(*way, "12'")
    (text,) = dimension_texts(drawing)
    assert text.get("transform").startswith("rotate(-90 ")
    assert float(text.get("x")) < 0, "over the line as read from the right is left of it"


def test_level_text_given_from_right_to_left_is_not_upside_down():
    drawing = Drawing(4000, 4000, "t", "d")
    drawing.dimension(4000, 0, 0, 0, "12'")
    (text,) = dimension_texts(drawing)
    assert text.get("transform") is None
    assert float(text.get("y")) < 0


def test_second_figure_goes_under_the_line_where_both_do_not_fit_over_it():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 1200, 0, "3' 11\" · 1\u202f200 mm")
    over, under = dimension_texts(drawing)
    assert (over.text, under.text) == ("3' 11\"", "1\u202f200 mm")
    assert float(over.get("y")) < 0 < float(under.get("y"))


def test_text_longer_than_its_level_line_stands_beyond_it():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 100, 0, '3 15/16"')
    (text,) = dimension_texts(drawing)
    assert float(text.get("x")) > 100 * drawing.scale
    assert lines(drawing, "thin")[-1][2] > float(text.get("x")), "its line runs on under it"


@pytest.mark.parametrize("offset, anchor", [(1, "end"), (-1, "start")])
def test_text_longer_than_its_upright_line_stands_level_on_the_outside(offset, anchor):
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 0, 100, '3 15/16"', offset * drawing.step)
    (text,) = dimension_texts(drawing)
    assert anchor in text.get("class").split()
    assert text.get("transform") is None
    outside = -offset * drawing.step * drawing.scale
    assert float(text.get("x")) * -offset > abs(outside)


def test_path_is_placed_and_its_arcs_turn_over():
    drawing = Drawing(1000, 1000, "t", "d")
    drawing.path("M0 0 L1000 0 A500 500 0 0 1 0 0 Z")
    d = next(parsed(drawing).iter(f"{SVG}path")).get("d")
    full, half = f"{1000 * drawing.scale:.2f}".rstrip("0").rstrip("."), 500 * drawing.scale
    assert d == f"M0 0 L{full} 0 A{half:g} {half:g} 0 0 0 0 0 Z"


@pytest.mark.parametrize("d", ["M0", "l 1 1", "M0 0 L1", "3 4"])
def test_path_that_cannot_be_placed_is_refused(d):
    with pytest.raises(ValueError, match="path"):
        Drawing(10, 10, "t", "d").path(d)


def test_nothing_to_draw_on_is_refused():
    with pytest.raises(ValueError, match="wider than 0 mm"):
        Drawing(0, 10, "t", "d")


def test_arc_runs_through_its_circle():
    drawing = Drawing(2000, 1000, "t", "d")
    drawing.arc(1000, 0, 1000, 0, 180)
    points = next(parsed(drawing).iter(f"{SVG}polyline")).get("points").split()
    places = [tuple(float(part) / drawing.scale for part in point.split(",")) for point in points]
    assert places[0] == pytest.approx((2000, 0), abs=0.1)
    assert places[-1] == pytest.approx((0, 0), abs=0.1)
    for x, y in places:
        assert math.hypot(x - 1000, y) == pytest.approx(1000, abs=0.2)


def test_no_style_and_no_script_that_the_policy_forbids():
    drawing = Drawing(2000, 1000, "t", "d")
    drawing.dimension(0, 0, 2000, 0, "6'", drawing.step)
    drawing.circle(10, 10, 5, "mark")
    assert "style" not in drawing.svg()


def test_parts_carry_the_fields_that_light_them():
    drawing = Drawing(1000, 500, "House", "Words.")
    with drawing.of("length", "spacing_wanted"):
        drawing.dimension(0, 0, 1000, 0, "1 m")
    with drawing.of("post_depth", quiet=True):
        drawing.line(0, 0, 0, 100)
    found = {group.get("data-field"): group for group in parsed(drawing).iter(f"{SVG}g")}
    assert list(found) == ["length spacing_wanted", "post_depth"]
    assert found["length spacing_wanted"].find(f"{SVG}text").text == "1 m"
    assert found["post_depth"].get("class") == "quiet" and found["length spacing_wanted"].get("class") is None


def test_a_scale_that_is_given_is_kept_and_a_low_drawing_is_as_low_as_asked():
    assert Drawing(1000, 500, "House", "Words.", scale=0.05).scale == 0.05
    assert Drawing(1000, 5000, "House", "Words.", tallest=50).scale == 0.01
