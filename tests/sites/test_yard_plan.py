"""The strokes of a plan of a site, in millimetres on the ground: arrow, dimensions, and words for what has no place."""

from __future__ import annotations

from math import hypot

import pytest

from farmbuild.sites.models import House
from farmbuild.sites.yard import plan
from farmbuild.sites.yard.bridge import Rectangle, neighbours_among
from farmbuild.sites.yard.standing import Standing


class Drawn(plan.SitePlan):
    """Keeps what it is told to draw."""

    def line(self, *at):
        self.__dict__.setdefault("lines", []).append(at)
        super().line(*at)

    def polyline(self, points, css="ink", *, closed=False):
        self.__dict__.setdefault("shapes", {})[css] = [*points]
        super().polyline(points, css, closed=closed)

    def text(self, x, y, words, css="", **more):
        self.__dict__.setdefault("words", {})[words] = (x, y)
        super().text(x, y, words, css, **more)


@pytest.fixture
def drawn(monkeypatch):
    monkeypatch.setattr(plan, "draw_house", lambda *_, **__: None)

    def made(*rectangles, placed=True, bearing=None):
        rows = [
            plan.OnPlan(House(name=f"House {n}", slug=f"house-{n}"), n, where, Standing(), 3, "", placed)
            for n, where in enumerate(rectangles, 1)
        ]
        return Drawn(rows, title="", words="", units="metric", stake="stake", bearing=bearing)

    return made


def test_the_head_of_the_arrow_lies_even_about_its_shaft(drawn):
    made = drawn(Rectangle(0.0, 0.0, 20_000.0, 5_000.0), bearing=30)
    [(*shaft, _)] = [line for line in made.lines if line[-1] == "seen north-arrow"]
    foot, tip = shaft[:2], shaft[2:]
    at, *barbs = made.shapes["seen fill"]
    assert at == pytest.approx(tip)
    for end in (foot, tip):
        one, other = (hypot(x - end[0], y - end[1]) for x, y in barbs)
        assert one == pytest.approx(other)
    assert hypot(barbs[0][0] - barbs[1][0], barbs[0][1] - barbs[1][1]) == pytest.approx(made.mm(10))


def test_what_has_no_place_is_said_over_its_right_end(drawn):
    made = drawn(Rectangle(0.0, -9_000.0, 20_000.0, 5_000.0), Rectangle(0.0, -16_000.0, 9_000.0, 5_000.0), placed=False)
    assert made.words["not placed"] == pytest.approx((20_000.0, -4_000.0 + made.mm(5)))


def test_a_dimension_ends_in_strokes_at_half_a_right_angle(drawn):
    rectangles = [Rectangle(0.0, 0.0, 20_000.0, 5_000.0), Rectangle(0.0, 9_000.0, 20_000.0, 5_000.0)]
    made = drawn(*rectangles)
    made.dimensions(neighbours_among(rectangles, near=0.0))
    ticks = [line[:4] for line in made.lines if line[-1] == "tick"]
    assert sorted(round((y1 + y2) / 2) for _, y1, _, y2 in ticks) == [5_000, 9_000]
    for x1, y1, x2, y2 in ticks:
        assert abs(x2 - x1) == pytest.approx(abs(y2 - y1)) == pytest.approx(made.mm(6))
