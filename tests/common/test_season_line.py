"""The season line to scale: where days, work, flags and levels stand, against dates worked out here by themselves."""

from __future__ import annotations

import itertools
import re
from datetime import date, timedelta

import pytest

from farmbuild.common.season_line import Axis, Flag, Level, LevelLine, Row, SeasonLine, Sign, Stretch, joined

TODAY = date(2027, 3, 10)


def numbers_of(svg: str, css: str, *names: str) -> list[tuple[float, ...]]:
    """Of each line of this class, these of its places in hundredths."""
    tags = re.findall(rf'<line class="{css}" [^>]*>', svg)
    return [tuple(float(re.search(rf'\b{name}="([\d.]+)%?"', tag)[1]) for name in names) for tag in tags]


def flags_of(svg: str, css: str) -> list[float]:
    return [
        float(at)
        for at in re.findall(rf'<svg class="flag" x="([\d.]+)%"[^>]*><title>[^<]*</title><path class="{css}"', svg)
    ]


def across(day: date, first: date, end: date) -> float:
    """Hundredths of the width, by day numbers alone."""
    return (day.toordinal() - first.toordinal()) * 100 / (end.toordinal() - first.toordinal())


def line_of(*rows: Row, today: date = TODAY) -> SeasonLine:
    return SeasonLine("A season", rows, today)


def a_row(work: list[tuple[date, date]], *flags: Flag, name: str = "North 1") -> Row:
    return Row(name, "/houses/north-1/", tuple(Stretch(*some) for some in work), flags)


@pytest.mark.parametrize(
    ("first", "last", "monday", "end"),
    [
        # Over a year's end, one week, weeks in which clocks go on and back, and a leap day.
        (date(2026, 12, 28), date(2027, 1, 20), date(2026, 12, 28), date(2027, 1, 25)),
        (date(2027, 3, 9), date(2027, 3, 11), date(2027, 3, 8), date(2027, 3, 15)),
        (date(2027, 3, 10), date(2027, 4, 2), date(2027, 3, 8), date(2027, 4, 5)),
        (date(2027, 10, 20), date(2027, 11, 10), date(2027, 10, 18), date(2027, 11, 15)),
        (date(2028, 2, 21), date(2028, 3, 5), date(2028, 2, 21), date(2028, 3, 6)),
    ],
)
def test_work_and_flags_stand_to_scale(first, last, monday, end):
    middle = first + timedelta(days=1)
    row = a_row([(first, middle)], Flag(last, Sign.DELIVERY, "Order 1-1 comes"), Flag(middle, Sign.ORDER_BY, "By"))
    line = line_of(row, today=middle)
    assert (line.axis.first, line.axis.end) == (monday, end)
    [(_, strip)] = line.open_rows
    [(begins, ends)] = numbers_of(strip, "work", "x1", "x2")
    assert begins == pytest.approx(across(first, monday, end), abs=0.001)
    # Work fills its last day.
    assert ends == pytest.approx(across(middle + timedelta(days=1), monday, end), abs=0.001)
    assert flags_of(strip, "delivery") == [pytest.approx(across(last, monday, end), abs=0.001)]
    assert flags_of(strip, "order by") == [pytest.approx(across(middle, monday, end), abs=0.001)]
    [(today,)] = set(numbers_of(line.head, "season-today", "x1"))
    assert today == pytest.approx(across(middle, monday, end), abs=0.001)


def test_weeks_are_alike_and_years_are_said():
    axis = Axis.over([date(2026, 11, 30), date(2027, 4, 4)], today=date(2026, 12, 1))
    found = [x for (x,) in numbers_of(axis.head("A season"), "season-week", "x1")]
    steps = {round(after - before, 2) for before, after in itertools.pairwise(found)}
    assert len(found) == 18 and max(steps) - min(steps) < 0.02
    assert axis.years == "Weeks, 2026 to 2027" and "30 November 2026 to 4 April 2027" in axis.said
    assert "Today is 1 December 2026" in axis.head("A season")


def test_two_years_thin_to_months_and_say_each_year():
    axis = Axis.over([date(2026, 11, 30), date(2028, 11, 5)], today=date(2027, 6, 1))
    assert axis.by_months and axis.years == "Months, 2026 to 2028"
    marks = dict(axis.marks())
    assert len(marks) == 24 and all(day.day == 1 for day in marks)
    assert (marks[date(2027, 1, 1)], marks[date(2028, 1, 1)], marks[date(2027, 2, 1)]) == ("2027", "2028", "Feb")
    for year in ("2027", "2028"):
        [kinds] = re.findall(rf'<text class="day ([^"]*)"[^>]*>{year}<', axis.head("A season"))
        assert {"s", "m", "l"} <= set(kinds.split())


def test_one_week_is_written_by_days():
    axis = Axis.over([date(2027, 3, 9)], today=TODAY)
    assert axis.days == 7 and [words for _, words in axis.marks()] == [f"{n} Mar" for n in range(8, 15)]


@pytest.mark.parametrize("month", [1, 2, 6, 11])
@pytest.mark.parametrize("weeks", [1, 2, 3, 5, 13, 26, 27, 52, 57, 104, 260])
def test_days_that_are_written_have_room(weeks, month):
    first = date(2027, month, 4)
    axis = Axis.over([first, first + timedelta(days=weeks * 7 - 1)], today=first)
    texts = re.findall(r'<text class="day ([^"]*)" x="([\d.]+)%"', axis.head("A season"))
    for kind, most in {"xs": 2, "s": 4, "m": 8, "l": 14}.items():
        places = [float(at) for kinds, at in texts if kind in kinds.split()]
        assert 1 <= len(places) <= most
        assert all(after - before >= 92 / most for before, after in itertools.pairwise(places))
        assert len(places) == 1 or places[-1] <= 100 - 90 / most


def test_today_far_from_the_season_is_left_out():
    row = a_row([(date(2027, 5, 3), date(2027, 5, 7))])
    assert line_of(row, today=date(2027, 3, 20)).axis.today == date(2027, 3, 20)
    for far in (date(2026, 1, 1), date(2028, 1, 1)):
        line = line_of(row, today=far)
        assert line.axis.today is None and "today" not in line.head and line.axis.days == 7


def test_waiting_goes_from_the_first_day_to_the_last_but_not_to_the_limit():
    flags = [Flag(date(2027, 3, 1), Sign.DELIVERY, "Comes"), Flag(date(2027, 3, 30), Sign.LIMIT, "To stand by")]
    row = a_row([(date(2027, 3, 8), date(2027, 3, 9)), (date(2027, 3, 15), date(2027, 3, 16))], *flags)
    assert row.waits == Stretch(date(2027, 3, 1), date(2027, 3, 16))
    line = line_of(row)
    [(_, strip)] = line.open_rows
    [(at, to)] = numbers_of(strip, "wait", "x1", "x2")
    monday, end = date(2027, 3, 1), date(2027, 4, 5)
    assert (at, to) == (0, pytest.approx(across(date(2027, 3, 16), monday, end), abs=0.001))
    assert numbers_of(strip, "limit", "x1") == [(pytest.approx(across(date(2027, 3, 30), monday, end), abs=0.001),)]
    assert len(numbers_of(strip, "work", "x1")) == 2


def test_a_limit_far_off_is_named_at_the_edge_and_presses_nothing_together():
    """Work of three weeks in March; needed in September, and another house three weeks after the work."""
    work = [(date(2027, 3, 8), date(2027, 3, 26))]
    far, near = date(2027, 9, 15), date(2027, 4, 16)
    line = line_of(
        a_row(work, Flag(far, Sign.LIMIT, "To stand by")),
        a_row(work, Flag(near, Sign.LIMIT, "To stand by"), name="N 2"),
    )
    assert line.axis.first == date(2027, 3, 8) and near < line.axis.end <= date(2027, 5, 10)
    (_, strip), (_, other) = line.open_rows
    [(begins, ends)] = numbers_of(strip, "work", "x1", "x2")
    assert ends - begins > 25, "work keeps its breadth"
    assert ">15 Sep →</text>" in strip and "<title>To stand by 15 September 2027</title>" in strip
    assert "To stand by 15 September 2027" in re.search('aria-label="([^"]*)"', strip)[1]
    assert "→" not in other and len(numbers_of(other, "limit", "x1")) == 1
    # Where its words stand nothing else is: neither work nor the nearer limit.
    words = 100 - 100 * 0.25 / 1.5
    assert ends < words and numbers_of(other, "limit", "x1")[0][0] < words


def test_a_limit_of_another_year_says_it_and_one_long_past_stands_on_the_left():
    work = [(date(2027, 3, 8), date(2027, 3, 26))]
    [(_, strip)] = line_of(a_row(work, Flag(date(2028, 3, 1), Sign.LIMIT, "To stand by"))).open_rows
    assert ">1 Mar 2028 →</text>" in strip
    line = line_of(a_row(work, Flag(date(2026, 9, 1), Sign.LIMIT, "To stand by")))
    [(_, strip)] = line.open_rows
    assert ">← 1 Sep 2026</text>" in strip and line.axis.first < date(2027, 3, 8)
    assert line_of(Row("N", "/n/", (), (Flag(date(2028, 3, 1), Sign.LIMIT, "To stand by"),))).axis.first.year == 2028


def test_a_house_without_days_is_named_and_has_no_line():
    line = line_of(Row("Creek 1", "/houses/creek-1/", note="no day yet"))
    [(row, strip)] = line.open_rows
    assert row.said == "No day is known yet." and 'aria-label="No day is known yet."' in strip
    assert not re.findall(r'class="(?:work|wait|limit)', strip) and line.axis.days == 7


def test_forty_houses_fold_after_eight_and_none_is_left_out():
    line = line_of(*(a_row([(TODAY, TODAY)], name=f"House {n}") for n in range(40)))
    assert [row.name for row, _ in line.open_rows] == [f"House {n}" for n in range(8)]
    assert [row.name for row, _ in line.folded_rows] == [f"House {n}" for n in range(8, 40)]
    assert not line_of() and line_of().axis.days == 7


def test_all_that_is_drawn_is_said():
    flags = [
        Flag(date(2027, 3, 20), Sign.LIMIT, "To stand by"),
        Flag(date(2027, 3, 12), Sign.DELIVERY, "Order 1-2 comes"),
    ]
    said = a_row([(date(2027, 3, 8), date(2027, 3, 9))], *flags).said
    assert said == "Work 8 March 2027 to 9 March 2027. Order 1-2 comes 12 March 2027. To stand by 20 March 2027."


def test_names_are_escaped():
    line = SeasonLine('<b>"x"', [Row("a", "/", flags=(Flag(TODAY, Sign.DELIVERY, '"<i>'),))], TODAY)
    assert "<b>" not in line.head and "<i>" not in line.open_rows[0][1]


def test_stretches_that_meet_are_one():
    days = [date(2027, 3, n) for n in range(1, 20)]
    found = joined(
        [Stretch(days[4], days[6]), Stretch(days[0], days[1]), Stretch(days[2], days[3]), Stretch(days[8], days[9])]
    )
    assert found == (Stretch(days[0], days[6]), Stretch(days[8], days[9]))
    assert joined([Stretch(days[0], days[9]), Stretch(days[2], days[3])]) == (Stretch(days[0], days[9]),)
    assert joined([]) == ()


def level_points(strip: str) -> list[tuple[float, ...]]:
    return numbers_of(strip, "level(?: short)?", "x1", "y1", "x2", "y2")


def test_a_level_steps_on_its_days_to_its_heights():
    ends = ((TODAY, 20), (date(2027, 3, 15), 5), (date(2027, 3, 22), -15), (date(2027, 3, 30), 25))
    level = Level(
        "Rail",
        "/",
        ends,
        arrivals=((date(2027, 3, 30), 40),),
        needs=((date(2027, 3, 22), 20),),
        short_on=date(2027, 3, 22),
    )
    line = LevelLine("What runs short", [level], TODAY)
    monday, end = date(2027, 3, 8), date(2027, 4, 5)
    [(_, strip)] = line.open_rows
    flat = [way for way in level_points(strip) if way[1] == way[3]]
    assert [way[0] for way in flat] == [pytest.approx(across(day, monday, end), abs=0.001) for day, _ in ends]
    assert flat[-1][2] == 100
    # Heights are in proportion: 40 pieces from the lowest to the highest, and 0 where the thin line stands.
    tall = flat[2][1] - flat[3][1]
    assert [(flat[2][1] - way[1]) / tall for way in flat] == [pytest.approx((n + 15) / 40, abs=0.001) for _, n in ends]
    [(zero,)] = numbers_of(strip, "zero", "y1")
    assert (flat[2][1] - zero) / tall == pytest.approx(15 / 40, abs=0.001)
    assert len(numbers_of(strip, "level short", "x1")) == 2 and ">short 22 Mar<" in strip
    assert flags_of(strip, "delivery") == [pytest.approx(across(date(2027, 3, 30), monday, end), abs=0.001)]
    assert flags_of(strip, "need") == [pytest.approx(across(date(2027, 3, 22), monday, end), abs=0.001)]
    assert "15 short on 22 March 2027" in level.said and "Comes: 40 on 30 March 2027" in level.said


def test_what_runs_short_and_what_moves_comes_before_what_stays():
    still = Level("Still", "/", ((TODAY, 3),))
    moves = Level("Moves", "/", ((TODAY, 3), (TODAY + timedelta(days=4), 1)))
    short = Level("Short", "/", ((TODAY, -1),), short_on=TODAY)
    line = LevelLine("What runs short", [still, moves, short], TODAY)
    assert [row.name for row, _ in line.open_rows] == ["Short", "Moves", "Still"]
    # No pieces at all is a line at 0.
    [(_, strip)] = LevelLine("x", [Level("None", "/", ((TODAY, 0),))], TODAY).open_rows
    assert len(level_points(strip)) == 1


def test_a_large_one_has_its_figures_and_what_would_be_if_nothing_came():
    ends = ((TODAY, 20), (date(2027, 3, 22), -15), (date(2027, 3, 30), 25))
    level = Level(
        "Rail",
        "/",
        ends,
        arrivals=((date(2027, 3, 30), 40),),
        needs=((date(2027, 3, 22), 35),),
        short_on=date(2027, 3, 22),
        large=True,
        alone=((TODAY, 20), (date(2027, 3, 22), -15), (date(2027, 3, 30), -15)),
    )
    [(_, strip)] = LevelLine("Rail by day", [Level("Other", "/o/", ((TODAY, 1),)), level], TODAY).open_rows[:1]
    figures = re.findall(r'<text class="figure tier ([^"]*)" x="([\d.]+)%"[^>]*>([^<]*)<', strip)
    monday, end = date(2027, 3, 8), date(2027, 4, 5)
    at = {words: float(place) for _, place, words in figures}
    assert at == {
        words: pytest.approx(across(day, monday, end), abs=0.001)
        for words, day in {
            "20": TODAY,
            "−15": ends[1][0],
            "25": ends[2][0],
            "−35": ends[1][0],
            "+40": ends[2][0],
        }.items()
    }
    # Each is written where there is room for all of them, and the shortest day wherever there is room for two.
    assert all("l" in kinds.split() for kinds, _, _ in figures)
    assert next(kinds for kinds, _, words in figures if words == "−15").endswith("less")
    dashed = numbers_of(strip, "level dash", "y1", "y2")
    assert dashed[-1][0] == dashed[-1][1] == max(y for pair in dashed for y in pair)


@pytest.mark.parametrize("count", [1, 2, 5, 30, 60])
def test_figures_keep_their_room(count):
    days = [TODAY + timedelta(days=n * 2) for n in range(count)]
    axis = Axis.over(days, today=TODAY)
    found = axis.spaced(days, range(count))
    for kind, most in {"xs": 2, "s": 4, "m": 8, "l": 14}.items():
        room = 92 / most
        begins = sorted(
            axis.at(day) - (room if end else 0)
            for day, (kinds, end) in zip(days, found, strict=True)
            if kind in kinds.split()
        )
        assert begins and begins[0] >= 0
        assert all(after - before >= room - 1e-9 for before, after in itertools.pairwise(begins))
