"""Hoop and stick in a browser: no mark, joint or label lies over another, and the sheet is read at arm's length."""

from __future__ import annotations

import itertools
from decimal import Decimal

import pytest

from farmbuild.hoops.recipes.models import Recipe
from tests.factories import FOOT, INCH
from tests.size import LONG

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Texts of one drawing that lie over one another, or over a level line of it.
COLLISIONS = """
() => [...document.querySelectorAll("main svg")].filter((svg) => svg.getClientRects().length).flatMap((svg) => {
  const seen = [...svg.querySelectorAll("text")].filter((text) => text.getClientRects().length);
  const boxes = seen.map((text) => [text.textContent, text.getBoundingClientRect()]);
  const faults = [];
  const beside = (a, b) => a.right - 0.5 <= b.left || b.right - 0.5 <= a.left;
  const over = (a, b) => !beside(a, b) && a.top < b.bottom - 2 && b.top < a.bottom - 2;
  boxes.forEach(([words, a], at) => boxes.slice(at + 1).forEach(([other, b]) => {
    if (over(a, b)) faults.push(`${words} | ${other}`);
  }));
  const lines = [...svg.querySelectorAll("line")].filter((line) => line.getAttribute("y1") === line.getAttribute("y2"));
  for (const [words, a] of boxes) for (const line of lines) {
    const b = line.getBoundingClientRect();
    if (!beside(a, b) && a.top + 2 < b.top && b.bottom < a.bottom - 3) faults.push(`${words} on a line`);
  }
  return faults;
})
"""
PT = 4 / 3
#: Recipes made for the tests, the last of them all.
MADE = 3


@pytest.fixture
def recipes(demo):
    """Those of the demo, and with many marks, with one, and of a stick whose marks have long words."""
    shipped = list(Recipe.objects.of(demo.organisation))
    (hoop,) = (recipe for recipe in shipped if recipe.slug == "hoop-12-ft")

    def other(slug, **own):
        recipe = Recipe.objects.get(pk=hoop.pk)
        recipe.pk, recipe.slug, recipe.name = None, slug, slug
        for name, value in own.items():
            setattr(recipe, name, value)
        recipe.save()
        return recipe

    sixteenth = INCH / 16
    made = [
        other("many", pitch=4 * INCH, first_mark=9 * INCH + 15 * sixteenth),
        other("long-words", pitch=11 * INCH + 15 * sixteenth, first_mark=9 * INCH + 11 * sixteenth),
        other("one", pitch=9 * FOOT, first_mark=5 * FOOT),
    ]
    return [recipe.slug for recipe in [*shipped, *made]]


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_nothing_in_a_drawing_touches_anything_else(page_at, demo, recipes, units):
    demo.organisation.unit_system = units
    demo.organisation.save()
    numbers = {}
    page = page_at(390)
    # In the usual run the longer words of millimetres are tried where they are closest.
    for slug in recipes if units == "imperial" or LONG else recipes[-MADE:]:
        for address in (f"/hoops/{slug}/", f"/hoops/{slug}/sheet/"):
            page.goto(address)
            for width in (390, 1440):
                page.set_viewport_size({"width": width, "height": 844})
                assert page.evaluate("document.documentElement.scrollWidth") <= width, address
                assert page.evaluate(COLLISIONS) == [], (address, width)
            page.emulate_media(media="print")
            page.set_viewport_size({"width": 704, "height": 900})
            assert page.evaluate(COLLISIONS) == [], (address, "on paper")
            numbers[slug] = page.locator("svg.stick.paper text:visible").count()
            page.emulate_media(media="screen")
            page.set_viewport_size({"width": 390, "height": 844})
    assert min(numbers.values()) >= 1 and max(numbers.values()) > 20


def test_marks_on_the_sheet_are_eighteen_points_and_to_scale(page_at, demo):
    page = page_at(1440)
    page.goto("/hoops/hoop-12-ft/sheet/")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 704, "height": 900})
    sizes = page.locator("svg.stick.paper text, .marks strong").evaluate_all(
        "all => all.map((one) => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert len(sizes) > 20 and min(sizes) >= 18 * PT - 0.01
    recipe = Recipe.objects.get(slug="hoop-12-ft")
    whole = page.locator("svg.stick.paper").bounding_box()
    marks = page.locator("svg.stick.paper line.mark").evaluate_all(
        "all => all.map((one) => one.getBoundingClientRect().x)"
    )
    first = (marks[0] - whole["x"]) / whole["width"]
    assert first == pytest.approx(float(recipe.first_mark / recipe.stick_length), abs=0.003)
    steps = [(b - a) / whole["width"] for a, b in itertools.pairwise(marks)]
    assert steps == pytest.approx([float(recipe.pitch / recipe.stick_length)] * len(steps), abs=0.003)
    assert Decimal(len(marks)) == page.locator(".marks li").count()
