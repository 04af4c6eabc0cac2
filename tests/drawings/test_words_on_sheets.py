"""No words on a sheet lie over other words or outside its frame, by the breadth that their letters have."""

from __future__ import annotations

import re
from itertools import combinations, pairwise

import pytest
from django.utils import translation

from farmbuild.catalogue.models import Material
from farmbuild.drawings.linework import drawn_on
from farmbuild.drawings.pen import Stroke, breadth_of, wrapped
from tests.drawings.making import HOUSES, house_of, set_of

each_house = pytest.mark.parametrize(("units", "starter"), HOUSES, ids=lambda value: str(value))


def box_of(words) -> tuple[float, float, float, float]:
    """Left, lower, right and upper edge of its capitals, mm of paper."""
    long, high = breadth_of(words.text, words.height), words.height
    back = {"start": 0.0, "middle": long / 2, "end": long}[words.anchor]
    if words.turned:
        return words.x - high, words.y - back, words.x, words.y - back + long
    return words.x - back, words.y, words.x - back + long, words.y + high


def overlap(one, other) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def clashes(found) -> list[tuple[str, ...]]:
    wrong = []
    for sheet in found.sheets:
        boxes = [(words.text, box_of(words)) for words in drawn_on(sheet)[1]]
        for text, (left, low, right, high) in boxes:
            if left < 20 or low < 10 or right > found.paper.wide - 10 or high > found.paper.high - 10:
                wrong.append((sheet.title, text, "outside"))
        wrong += [(sheet.title, a, b) for (a, one), (b, other) in combinations(boxes, 2) if overlap(one, other)]
    return wrong


def strokes_of(sheet) -> list[tuple[float, float, float, float]]:
    """Straight ones, mm of paper."""
    found = []
    for stroke in drawn_on(sheet)[0]:
        if isinstance(stroke, Stroke):
            points = [*stroke.points, stroke.points[0]] if stroke.closed else stroke.points
            found += [(x1, y1, x2, y2) for (x1, y1, bulge), (x2, y2, _) in pairwise(points) if not bulge]
    return found


def crosses(stroke, box) -> bool:
    """Whether a part of it lies inside of the box."""
    x, y, x2, y2 = stroke
    first, last = 0.0, 1.0
    for step, low, high in ((x2 - x, box[0] - x, box[2] - x), (y2 - y, box[1] - y, box[3] - y)):
        if step == 0:
            if low >= 0 or high <= 0:
                return False
            continue
        near, far = sorted((low / step, high / step))
        first, last = max(first, near), min(last, far)
    return first < last


@each_house
def test_no_line_goes_through_words(user, in_units, units, starter):
    in_units(units)
    found = set_of(house_of(user, starter))
    wrong = [
        (sheet.title, words.text)
        for sheet in found.sheets
        for words in drawn_on(sheet)[1]
        for stroke in strokes_of(sheet)
        if crosses(stroke, box_of(words))
    ]
    assert wrong == []


def test_the_test_sees_a_line_through_words():
    assert crosses((0, 1, 10, 1), (2, 0, 4, 2)) and crosses((3, -5, 3, 5), (2, 0, 4, 2))
    assert not crosses((0, 3, 10, 3), (2, 0, 4, 2)) and not crosses((0, 1, 1, 1), (2, 0, 4, 2))
    assert overlap((0, 0, 2, 2), (1, 1, 3, 3)) and not overlap((0, 0, 2, 2), (2, 0, 3, 2))


@pytest.mark.parametrize("paper", ["ansi-b", "a3"])
@each_house
def test_words_keep_clear_of_each_other(user, in_units, units, starter, paper):
    in_units(units)
    assert clashes(set_of(house_of(user, starter), paper)) == []


def test_of_a_long_house_too(user, organisation):
    house = house_of(user, "20-ft-house")
    house.length = house.spacing_wanted * 399
    assert clashes(set_of(house)) == []


@pytest.mark.parametrize(("units", "starter"), [HOUSES[1], HOUSES[5]])
def test_in_spanish_every_word_is_and_none_lies_over_another(user, in_units, units, starter):
    in_units(units)
    house = house_of(user, starter)
    english = texts_of(set_of(house))
    with translation.override("es"):
        found = set_of(house)
    assert clashes(found) == []
    # Names and numbers are the same in both.
    names = {"Material", house.recipe.name.upper()}
    names |= {material.name for material in Material.objects.of(house.organisation)}
    names |= {house.name, house.site.name, house.organisation.name, house.recipe.name, found.paper.words}
    same = {text for text in english & texts_of(found) if re.search("[A-Za-z]{3}", text)}
    assert {text for text in same if not any(text in name or name in text for name in names)} == set()


def texts_of(found) -> set[str]:
    return {words.text for sheet in found.sheets for words in drawn_on(sheet)[1]}


def test_a_length_is_never_broken():
    text = "Radius 10' 11 3/16\" (3 327 mm), then 2 x 6' 0 1/2\" (1 842 mm) of it"
    for room in range(54, 90, 3):
        lines = wrapped(text, room)
        assert " ".join(lines) == text and len(lines) > 1
        whole = "\n".join(lines)
        assert "10' 11 3/16\" (3 327 mm)" in whole and "6' 0 1/2\" (1 842 mm)" in whole


def test_a_word_longer_than_its_line_is_broken_and_whole():
    assert "".join(wrapped("N" * 120, 40)) == "N" * 120
    assert all(breadth_of(line) <= 40 for line in wrapped("N" * 120, 40))
