"""Bars of a day: as high as often something happened, where its day stands, and said in words."""

from __future__ import annotations

import re
from datetime import date

from farmbuild.common.season_line import BarLine, BarRow

TODAY = date(2027, 3, 10)


def line(*rows: BarRow) -> BarLine:
    return BarLine("Movements by day", rows, TODAY, "movements of a day")


def numbers(svg: str, name: str) -> list[float]:
    return [float(found) for found in re.findall(rf'<rect class="times"[^>]*\b{name}="([\d.]+)%"', svg)]


def test_bars_stand_on_their_days_to_one_scale():
    came = BarRow("Came in", ((date(2027, 3, 1), 1), (date(2027, 3, 5), 4)), "movement")
    went = BarRow("Went out", ((date(2027, 3, 10), 2),), "movement")
    drawn = line(came, went)
    # Two whole weeks from Monday, 1 March: a day is a fourteenth.
    (_, first), (_, second) = drawn.open_rows
    assert numbers(first, "x") == [round(100 / 14 * (days + 0.12), 3) for days in (0, 4)]
    one, four = numbers(first, "height")
    assert numbers(second, "height") == [round(four / 2, 3)] and round(4 * one, 2) == round(four, 2)
    for foot, height in zip(numbers(first, "y"), numbers(first, "height"), strict=True):
        assert round(foot + height, 2) == 86
    assert (came.note, went.note) == ("5", "2")
    assert "at most 4" in drawn.legend[0][1]


def test_it_is_said_in_words_the_busiest_days_in_their_order():
    row = BarRow("Went out", tuple((date(2027, 3, day), day) for day in range(1, 9)), "movement")
    assert row.said.startswith("Went out: 36 movements, most of them 4 on 4 March 2027, 5 on 5 March 2027")
    assert "3 on 3 March" not in row.said
    assert BarRow("Came in", (), "movement").said == "Came in: none."


def test_nothing_that_happened_is_no_drawing():
    assert not line(BarRow("Came in", (), "movement"))
