"""Drawings: marks on straight legs stand thin and without a number; the line of radii says every number as text."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from types import SimpleNamespace

from farmbuild.hoops.batches.measured.drawings import radius_line
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.bridge import BendRecipe
from farmbuild.hoops.recipes.drawings import HoopDrawing

INCH = Decimal("25.4")


def bent(sticks: int, radius: int) -> BendRecipe:
    insertion = INCH * 4 if sticks > 1 else Decimal(0)
    return BendRecipe(INCH * 120, sticks, insertion, INCH * radius, INCH * 9, INCH * 18, INCH)


def test_a_hoop_with_legs_numbers_only_what_is_pulled():
    svg = HoopDrawing(bent(3, 79), "Long", "imperial").hoop()
    assert svg.count('class="mark"') == 15
    # 108 in of each stick are bent; the half circle takes them from 43.9 to 308.1 in, by part pulls at 45 and 81 in.
    assert "Straight pipe of 3&#x27; 3 15/16&quot; at the left end and 3&#x27; 0 15/16&quot; at the right." in svg
    assert svg.count('class="mark"') + 3 == 18


def test_one_stick_shows_which_marks_are_left_out():
    svg = HoopDrawing(bent(1, 20), "Low", "imperial").stick()
    assert svg.count('class="mark"') == 5
    assert "No mark at 9&#x27; 9&quot;: too little pipe is left past it for bender and lever bar." in svg


def trial(radius: str, month: int) -> SimpleNamespace:
    return SimpleNamespace(effective_radius=INCH * Decimal(radius), at=datetime(2027, month, 4, tzinfo=UTC))


def test_the_line_of_radii_is_said_in_words_too():
    bender = Bender(name="Yard bender", rated_radius=INCH * 79)
    svg = radius_line(bender, [trial("79", 3), trial("79.5", 5)], "imperial")
    assert "Rated 6&#x27; 7&quot;. Measured, oldest first: 6&#x27; 7&quot; on 4 March 2027" in svg
    assert "6&#x27; 7 1/2&quot; on 4 May 2027" in svg
    assert svg.count("<circle") == 2
    assert "<polyline" in svg


def test_one_trial_is_a_point():
    svg = radius_line(Bender(name="B", rated_radius=INCH * 79), [trial("79", 3)], "metric")
    assert svg.count("<circle") == 1
    assert "<polyline" not in svg
    assert "2\u202f007 mm" in svg


def test_many_trials_keep_their_figures_apart():
    svg = radius_line(
        Bender(name="B", rated_radius=INCH * 79), [trial("79.5", 1 + n % 12) for n in range(24)], "metric"
    )
    assert svg.count("<circle") == 24
    assert svg.count(">2\u202f019 mm</text>") <= 5
