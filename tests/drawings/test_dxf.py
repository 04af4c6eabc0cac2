"""The DXF file, opened again and measured: against planning's geometry and against plain trigonometry."""

from __future__ import annotations

import itertools
import math
from decimal import Decimal
from io import StringIO

import ezdxf
import pytest
from ezdxf import bbox
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.math import bulge_to_arc

from farmbuild.drawings.dxf import places_in_model, plain, set_dxf
from farmbuild.drawings.pen import Layer
from farmbuild.sites.bridge import drawn_of, shape_of
from tests.drawings.making import HOUSES, house_of, set_of
from tests.outside.arc import set_over

#: mm; what a file may be off.
NEAR = 0.01
each_house = pytest.mark.parametrize(("units", "starter"), HOUSES, ids=lambda value: str(value))


def opened(found):
    document = ezdxf.read(StringIO(set_dxf(found).decode()))
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    return document


class Opened:
    """A file with the places of its views in model space."""

    def __init__(self, found) -> None:
        self.document = opened(found)
        self.model = self.document.modelspace()
        self.views = {}
        for sheet, places in zip(found.sheets, places_in_model(found), strict=True):
            for placed, place in zip(sheet.views, places, strict=True):
                _x, y, _wide, high = placed.box
                low = place[1] + (y - placed.y) * placed.scale
                self.views[placed.view.name] = (place, low, low + high * placed.scale)

    def shapes(self, view: str, layer: Layer, kind: str = "LWPOLYLINE", closed: bool = True):
        """Of one layer in one view: (points with bulge, or centre and radius), from the view's own 0, 0."""
        (x0, y0), low, high = self.views[view]
        found = []
        for entity in self.model.query(f'{kind}[layer=="{layer}"]'):
            if kind == "CIRCLE":
                x, y, _ = entity.dxf.center
                if low <= y <= high:
                    found.append((x - x0, y - y0, entity.dxf.radius))
            elif entity.closed == closed:
                points = [(x - x0, y - y0, bulge) for x, y, bulge in entity.get_points("xyb")]
                if all(low <= y + y0 <= high for _, y, _ in points):
                    found.append(points)
        return found


def upright(points) -> tuple[float, float, float, float]:
    """(x of the middle, lower end, upper end, breadth) of a pipe that stands straight."""
    xs, ys = sorted(x for x, _, _ in points), sorted(y for _, y, _ in points)
    assert len(points) == 4 and xs[1] - xs[0] < 1e-6 and ys[1] - ys[0] < 1e-6
    return (xs[0] + xs[-1]) / 2, ys[0], ys[-1], xs[-1] - xs[0]


def along(points) -> float:
    """Length of an open line with arcs."""
    total = 0.0
    for (x1, y1, bulge), (x2, y2, _) in itertools.pairwise(points):
        chord = math.hypot(x2 - x1, y2 - y1)
        turn = 4 * math.atan(abs(bulge))
        total += chord if not turn else chord / (2 * math.sin(turn / 2)) * turn
    return total


@each_house
def test_every_hoop_post_and_purlin_is_where_and_as_long_as_it_is(user, in_units, units, starter):
    in_units(units)
    house = house_of(user, starter)
    file = Opened(set_of(house))
    shape, drawn = shape_of(house), drawn_of(house, units)

    # Worked out a second time from what was typed.
    recipe = house.recipe
    pipe = float(recipe.sticks * recipe.stick_length - (recipe.sticks - 1) * recipe.insertion)
    arc = set_over(pipe, float(house.post_span))
    bays = math.ceil(house.length / house.spacing_wanted)
    places = [float(house.length) * n / bays for n in range(bays + 1)]
    above = float(house.post_length - house.post_depth)
    foot = above - float(house.post_socket_depth)
    ridge = foot + arc.rise
    assert [float(place) for place in shape.hoop_positions] == pytest.approx(places, abs=NEAR)
    assert float(shape.ridge_height) == pytest.approx(ridge, abs=NEAR)

    # Side view: its own 0 is the ridge with half a pipe over it.
    across = float(recipe.tube.width)
    ground = -(ridge + across / 2)
    hoops = sorted(upright(points) for points in file.shapes("Side view and plan", Layer.PIPE) if points)
    side = [hoop for hoop in hoops if hoop[2] > ground]
    assert [hoop[0] for hoop in side] == pytest.approx(places, abs=NEAR)
    for _, low, high, wide in side:
        assert (low - ground, high - ground, wide) == pytest.approx((foot, ridge, across), abs=NEAR)
    posts = sorted(upright(points) for points in file.shapes("Side view and plan", Layer.POSTS))
    assert [post[0] for post in posts] == pytest.approx(places, abs=NEAR)
    for _, low, high, wide in posts:
        assert (low - ground, high - ground) == pytest.approx((-float(house.post_depth), above), abs=NEAR)
        assert wide == pytest.approx(float(house.post_material.width), abs=NEAR)

    # Plan: hoops across, a post at both ends of each.
    plan = [hoop for hoop in hoops if hoop[2] <= ground]
    assert [hoop[0] for hoop in plan] == pytest.approx(places, abs=NEAR)
    assert {round(high - low, 2) for _, low, high, _ in plan} == {round(float(house.post_span), 2)}
    middle = (plan[0][1] + plan[0][2]) / 2
    feet = sorted(file.shapes("Side view and plan", Layer.POSTS, "CIRCLE"))
    wanted = sorted((x, middle + side * float(house.post_span) / 2) for x in places for side in (-1, 1))
    assert [value for x, y, _ in feet for value in (x, y)] == pytest.approx(
        [value for pair in wanted for value in pair], abs=NEAR
    )

    # Section: the hoop as set, by its centre line.
    (_centre,) = file.shapes("Section", Layer.CENTRE, closed=False)[:1]
    hoop = next(
        points for points in file.shapes("Section", Layer.CENTRE, closed=False) if len(points) > 2 or points[0][2]
    )
    assert along(hoop) == pytest.approx(pipe, abs=NEAR)
    assert hoop[0][:2] == pytest.approx((-float(house.post_span) / 2, foot), abs=NEAR)
    assert hoop[-1][:2] == pytest.approx((float(house.post_span) / 2, foot), abs=NEAR)
    bent = next(n for n, point in enumerate(hoop) if point[2])
    (cx, cy), *_, radius = bulge_to_arc(hoop[bent][:2], hoop[bent + 1][:2], hoop[bent][2])
    assert (cx, cy + radius) == pytest.approx((0, ridge), abs=NEAR)
    assert radius == pytest.approx(arc.radius, abs=NEAR)
    purlins = sorted(file.shapes("Section", Layer.PURLINS, "CIRCLE"))
    assert [value for x, y, _ in purlins for value in (x, y)] == pytest.approx(
        [float(value) for row in sorted(drawn.purlins, key=lambda row: row.x) for value in (row.x, row.height)],
        abs=NEAR,
    )
    each = house.side_purlins // 2
    for n in range(each):
        # A share of half the pipe from either foot.
        turn = pipe / 2 * (n + 1) / (each + 1)
        x = -arc.radius * math.sin((pipe / 2 - turn) / arc.radius) if turn >= arc.leg else -arc.span / 2
        assert any(abs(place[0] - x) < NEAR for place in purlins)
    runs = list(file.shapes("Side view and plan", Layer.PURLINS))
    assert len(runs) == len({(abs(row.x), row.height) for row in drawn.purlins}) + len(drawn.purlins)
    for points in runs:
        xs = [x for x, _, _ in points]
        assert (min(xs), max(xs)) == pytest.approx((0, float(house.length)), abs=NEAR)


@each_house
def test_the_hoop_as_bent_and_its_marks(user, in_units, units, starter):
    in_units(units)
    house = house_of(user, starter)
    found = set_of(house)
    file = Opened(found)
    recipe = house.recipe
    pipe = recipe.sticks * recipe.stick_length - (recipe.sticks - 1) * recipe.insertion
    hoops = file.shapes("Hoop as bent, standing free", Layer.CENTRE, closed=False)
    (hoop,) = [points for points in hoops if len(points) > 2 or points[0][2]]
    assert along(hoop) == pytest.approx(float(pipe), abs=NEAR)
    for (x1, y1, bulge), (x2, y2, _) in itertools.pairwise(hoop):
        if bulge:
            *_, radius = bulge_to_arc((x1, y1), (x2, y2), bulge)
            assert radius == pytest.approx(float(recipe.radius), abs=NEAR)
    marks = sorted(points[0][0] for points in file.shapes("One stick with its marks", Layer.MARKS, closed=False))
    first, pitch = recipe.first_mark, recipe.pitch
    assert marks and len(marks) <= (recipe.stick_length - first) / pitch + 1
    for mark in marks:
        steps = (Decimal(str(round(float(mark), 6))) - first) / pitch
        assert float(abs(steps - round(steps)) * pitch) < NEAR
    sticks = list(file.shapes("One stick with its marks", Layer.PIPE))
    xs = [x for points in sticks for x, _, _ in points]
    assert (min(xs), max(xs)) == pytest.approx((0, float(recipe.stick_length)), abs=NEAR)


def test_dimensions_measure_what_they_say(user, organisation):
    house = house_of(user, "12-ft-house")
    file = Opened(set_of(house))
    told = {dim.dxf.text.replace("\u202f", " "): dim.get_measurement() for dim in file.model.query("DIMENSION")}
    assert told["post span 12' (3 658 mm)"] == pytest.approx(3657.6, abs=NEAR)
    assert told["length 48' (14 630 mm)"] == pytest.approx(14630.4, abs=NEAR)
    assert told["stick 10' (3 048 mm)"] == pytest.approx(3048, abs=NEAR)
    assert told['insertion 4" (102 mm)'] == pytest.approx(101.6, abs=NEAR)
    assert {dim.dxf.layer for dim in file.model.query("DIMENSION")} == {"dimensions"}


def test_the_first_bays_of_a_long_house_are_drawn_larger_too(user, organisation):
    house = house_of(user, "12-ft-house")
    assert "First bays" not in [sheet.title for sheet in set_of(house).sheets]
    house.length = house.spacing_wanted * 399
    found = set_of(house)
    scales = {placed.view.name: placed.scale for sheet in found.sheets for placed in sheet.views}
    assert scales["First bays"] * 2 <= scales["Side view and plan"]
    file = Opened(found)
    whole = [upright(points) for points in file.shapes("Side view and plan", Layer.PIPE)]
    part = [upright(points) for points in file.shapes("First bays", Layer.PIPE)]
    assert len(whole) == 2 * 400 and 2 * 3 <= len(part) < 2 * 100
    places = sorted({round(float(hoop[0]), 2) for hoop in part})
    assert places == [round(n * float(house.spacing_wanted), 2) for n in range(len(part) // 2)]
    (words,) = [text.dxf.text for text in file.model.query("TEXT") if text.dxf.text.startswith("Bays 1 to")]
    assert words.startswith(f"Bays 1 to {len(places) - 1} of 399; all are alike")


def test_units_layers_layouts_and_nothing_on_no_layer(user, organisation):
    found = set_of(house_of(user, "12-ft-house"))
    document = opened(found)
    assert (document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == (4, 1)
    names = {layer.dxf.name for layer in document.layers}
    assert {"pipe", "posts", "purlins", "boards", "frame", "doors", "ground", "dimensions", "text", "sheet"} <= names
    for layout in document.layouts:
        stray = [e for e in layout if e.dxf.layer in ("0", "Defpoints") and e.dxftype() != "VIEWPORT"]
        assert stray == []
    titles = [f"{number} {sheet.title}" for number, sheet in enumerate(found.sheets, 1)]
    assert document.layout_names_in_taborder() == ["Model", *titles]


def test_a_window_shows_its_whole_view_at_its_scale_and_no_other(user, organisation):
    found = set_of(house_of(user, "20-ft-house"))
    document = opened(found)
    model = [(entity, bbox.extents([entity], fast=True)) for entity in document.modelspace()]
    seen = set()
    for number, sheet in enumerate(found.sheets, 1):
        windows = list(document.layouts.get(f"{number} {sheet.title}").query('VIEWPORT[layer=="windows"]'))
        assert len(windows) == len(sheet.views)
        for window, placed in zip(windows, sheet.views, strict=True):
            scale = window.dxf.view_height / window.dxf.height
            assert scale == pytest.approx(placed.scale)
            cx, cy = window.dxf.view_center_point.x, window.dxf.view_center_point.y
            wide, high = window.dxf.width * scale / 2, window.dxf.height * scale / 2
            for entity, box in model:
                inside = abs(box.center.y - cy) <= high
                if inside:
                    assert cx - wide <= box.extmin.x and box.extmax.x <= cx + wide, (placed.view.name, entity)
                    assert cy - high <= box.extmin.y and box.extmax.y <= cy + high, (placed.view.name, entity)
                    assert entity.dxf.handle not in seen
                    seen.add(entity.dxf.handle)
    assert len(seen) == len(model)


@pytest.mark.parametrize(
    "name", ["50%%c off %%%d", "\\U+0041 and \\P{\\fArial;x}", "up ^J ^ down", "温室 №7 Тепли́ца ΩΩ", '#set "x" <b>&']
)
def test_names_come_back_as_they_were_typed(user, organisation, name):
    found = set_of(house_of(user, "12-ft-house", name=name))
    document = opened(found)
    texts = [decode_dxf_unicode(text.plain_text()) for text in document.layouts.get("1 Section").query("TEXT")]
    assert name in texts


def test_a_line_end_in_a_name_is_a_space(user, organisation):
    found = set_of(house_of(user, "12-ft-house", name="North\r\nfield\u2028two"))
    texts = [text.plain_text() for text in opened(found).layouts.get("1 Section").query("TEXT")]
    assert "North field two" in texts


def test_plain_is_undone_by_a_reader():
    assert plain("a") == "a"
    assert plain("%%c") == "%%%%%%c"


def test_north_stands_beside_the_plan_where_it_is_known(user, organisation):
    house = house_of(user, "12-ft-house")
    house.along, house.across = Decimal(0), Decimal(0)

    def north(bearing: int | None, turn: int = 0) -> list[tuple[float, float]]:
        house.site.plan_bearing, house.ridge_turn = bearing, turn
        texts = Opened(set_of(house)).model.query('TEXT[text=="N"]')
        return [(text.dxf.align_point.x, text.dxf.align_point.y) for text in texts]

    assert north(None) == []
    # The first view that shows the plan, with east at the top, and with west there: north to the left, to the right.
    (left, low), (right, level) = north(90)[0], north(270)[0]
    assert level == pytest.approx(low)
    assert right > left
    # The turn of the house counts as the bearing does.
    assert north(0, 90)[0] == pytest.approx((left, low))
    house.along = None
    assert north(90) == []
