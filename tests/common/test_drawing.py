"""Drawings: escaping, scale, and where dimension lines fall."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from farmbuild.common.drawing import LETTER, PERSON, Drawing
from farmbuild.common.scale import BARS, RATIOS, bar_length, on_paper
from farmbuild.measure import UnitSystem

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


def below(text: ElementTree.Element) -> float:
    """Units of the sheet that words stand under their place, as they are read; it shrinks with the letters."""
    return float(text.get("dy", "0em").removesuffix("em")) * LETTER


def test_text_stands_over_the_middle():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 4000, 0, "12'")
    (text,) = dimension_texts(drawing)
    assert float(text.get("x")) == pytest.approx(2000 * drawing.scale, abs=0.02)
    assert float(text.get("y")) == 0 and -9 < below(text) < -5


@pytest.mark.parametrize("way", [(0, 0, 0, 4000), (0, 4000, 0, 0)])
def test_upright_text_reads_from_the_right_whichever_way_it_was_given(way):
    drawing = Drawing(4000, 4000, "t", "d")
    drawing.dimension(*way, "12'")
    (text,) = dimension_texts(drawing)
    assert text.get("transform").startswith("rotate(-90 ")
    assert below(text) < 0, "over the line as read from the right"


def test_level_text_given_from_right_to_left_is_not_upside_down():
    drawing = Drawing(4000, 4000, "t", "d")
    drawing.dimension(4000, 0, 0, 0, "12'")
    (text,) = dimension_texts(drawing)
    assert text.get("transform") is None
    assert below(text) < 0


def test_second_figure_goes_under_the_line_where_both_do_not_fit_over_it():
    drawing = Drawing(4000, 2000, "t", "d")
    drawing.dimension(0, 0, 1200, 0, "3' 11\" · 1\u202f200 mm")
    over, under = dimension_texts(drawing)
    assert (over.text, under.text) == ("3' 11\"", "1\u202f200 mm")
    assert below(over) < 0 < below(under)


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


def scale_of(drawing: Drawing) -> ElementTree.Element:
    return next(group for group in parsed(drawing).iter(f"{SVG}g") if group.get("class") == "scale")


@pytest.mark.parametrize("units, said", [("metric", "1\u202f000 mm"), ("imperial", "4'")])
def test_scale_bar_is_as_long_as_it_says(units, said):
    drawing = Drawing(3600, 2400, "t", "d", units=units)
    scale = scale_of(drawing)
    first, second = scale.findall(f"{SVG}rect")
    start, end = float(first.get("x")), float(second.get("x")) + float(second.get("width"))
    assert float(first.get("width")) == pytest.approx(float(second.get("width")))
    assert end - start == pytest.approx(float(scale.get("data-mm")) * drawing.scale, abs=0.05)
    assert scale.find(f"{SVG}text").text == said
    assert float(scale.get("data-mm")) == {"metric": 1000, "imperial": 1219.2}[units]


@pytest.mark.parametrize("units", list(UnitSystem))
@pytest.mark.parametrize("width, height", [(30, 20), (3600, 2400), (29000, 2400), (1000, 9000), (90000, 90000)])
def test_ratio_is_that_of_the_width_that_paper_is_given(units, width, height):
    drawing = Drawing(width, height, "t", "d", units=units)
    root, (_, _, wide, high) = parsed(drawing), box(drawing)
    ratio = int(scale_of(drawing).get("data-ratio").split(" : ")[1])
    on_sheet = float(root.get("width").removesuffix("mm"))
    assert on_sheet / wide * drawing.scale == pytest.approx(1 / ratio, rel=0.001)
    assert on_sheet <= 170.01 and on_sheet * high / wide <= 170.01
    assert f"Scale 1 : {ratio} when printed at 100 %." in root.find(f"{SVG}desc").text
    assert f"1 : {ratio} printed at 100 %" in [text.text for text in scale_of(drawing).iter(f"{SVG}text")]


@pytest.mark.parametrize("units", list(UnitSystem))
def test_ratios_and_bars_rise_and_go_on_beyond_their_end(units):
    assert list(RATIOS[units]) == sorted(set(RATIOS[units])) and list(BARS[units]) == sorted(set(BARS[units]))
    assert on_paper(360, 200, 0.0001, units, (170, 170), 13).ratio % 100 == 0
    assert bar_length(1000, units) == BARS[units][0]


def test_a_drawing_without_units_claims_no_scale():
    assert "scale" not in Drawing(100, 50, "t", "d").svg()


def test_a_person_is_as_tall_as_five_foot_eight_to_scale():
    drawing = Drawing(3600, 2400, "t", "d")
    drawing.person(1800)
    group = next(group for group in parsed(drawing).iter(f"{SVG}g") if group.get("class") == "person")
    head = group.find(f"{SVG}circle")
    top = float(head.get("cy")) - float(head.get("r"))
    feet = max(float(line.get("y2")) for line in group.iter(f"{SVG}line"))
    assert round(PERSON - 68 * 25.4, 6) == 0
    assert (feet - top) / drawing.scale == pytest.approx(1727.2, abs=1)


def test_words_over_a_line_break_it_and_others_do_not():
    drawing = Drawing(3600, 2400, "t", "d")
    drawing.line(0, 1000, 3600, 1000)
    drawing.text(1800, 1000 - drawing.mm(4), "across")
    drawing.text(1800, 1000 + drawing.mm(8), "clear of it")
    drawing.rect(100, 100, 3000, 700, "fill")
    drawing.text(1800, 400, "inside")
    gaps = [rect for rect in parsed(drawing).iter(f"{SVG}rect") if rect.get("class") == "gap"]
    assert len(gaps) == 1
    assert float(gaps[0].get("width").removesuffix("em")) == pytest.approx(6 * 0.56 + 0.4, abs=0.01)


@pytest.mark.parametrize("end", [(4000, 0), (0, 4000), (4000, 4000), (900, 0), (0, 300)])
def test_own_words_stand_clear_of_their_dimension_line(end):
    drawing = Drawing(4000, 4000, "t", "d")
    drawing.dimension(0, 0, *end, "3' 11\" · 1\u202f200 mm", drawing.step)
    assert "gap" not in drawing.svg()


@pytest.mark.parametrize(
    "breadth, kinds",
    [(1, ["cut"]), (3.5, ["cut to-760", "fill from-760"]), (4.0, ["cut to-600", "fill from-600"]), (6.5, ["fill"])],
)
def test_a_narrow_post_is_its_centre_line_where_it_is_under_six_pixels(breadth, kinds):
    drawing = Drawing(3600, 2400, "t", "d")
    drawing.bar(1000, 0, drawing.mm(breadth), 2000)
    shapes = [part for part in parsed(drawing) if part.tag in (f"{SVG}line", f"{SVG}rect")]
    assert [part.get("class") for part in shapes] == kinds
    if len(kinds) == 2:
        line, rect = shapes
        middle = float(rect.get("x")) + float(rect.get("width")) / 2
        assert float(line.get("x1")) == float(line.get("x2")) == pytest.approx(middle, abs=0.02)
        assert {float(line.get("y1")), float(line.get("y2"))} == {
            float(rect.get("y")), float(rect.get("y")) + float(rect.get("height"))
        }  # fmt: skip


def strokes(path: ElementTree.Element) -> list[list[float]]:
    figures = [float(part) for part in re.findall(r"-?[\d.]+", path.get("d"))]
    return [figures[at : at + 4] for at in range(0, len(figures), 4)]


def test_ground_is_hatched_at_45_degrees_under_its_line():
    drawing = Drawing(3600, 2400, "t", "d")
    drawing.ground(-100, 3700)
    (path,) = parsed(drawing).iter(f"{SVG}path")
    ((x1, y, x2, _),) = lines(drawing, "cut")
    assert len(strokes(path)) > 30
    for ax, ay, bx, by in strokes(path):
        assert ay == y and by > y, "from the line down"
        assert ax - bx == pytest.approx(by - ay, abs=0.02)
        assert x1 - 0.02 <= bx and ax <= x2 + 0.02


def test_hatching_stays_inside_its_rectangle():
    drawing = Drawing(3600, 2400, "t", "d")
    drawing.hatched(300, 300, 1500, 800)
    (path,) = parsed(drawing).iter(f"{SVG}path")
    left, right = 300 * drawing.scale, 1800 * drawing.scale
    low, top = -300 * drawing.scale, -1100 * drawing.scale
    assert len(strokes(path)) > 10
    for ax, ay, bx, by in strokes(path):
        assert bx - ax == pytest.approx(ay - by, abs=0.02)
        assert left - 0.02 <= ax <= bx <= right + 0.02 and top - 0.02 <= by <= ay <= low + 0.02
