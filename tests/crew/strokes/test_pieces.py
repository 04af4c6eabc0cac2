"""When a task is worked at, and where its strokes stand: shifts, nights, clock changes, groups."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from math import ceil
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.crew.schedule.strokes.pieces import Hours, Run, by_then, hours_of, strokes_of, worked_runs
from farmbuild.crew.schedule.strokes.wrapping import breadth, wrapped

ZONE = ZoneInfo("America/Chicago")
#: Monday to Friday, with half an hour off at noon.
SPLIT = {day: [(time(7), time(12)), (time(12, 30), time(16))] for day in range(5)}


def local(*at: int) -> datetime:
    return datetime(*at, tzinfo=ZONE)


def runs(starts, ends, shifts=SPLIT, closed=()):
    found = worked_runs(starts, ends, shifts=shifts, closed=closed, zone=ZONE)
    return [f"{run.starts.astimezone(ZONE):%a %H:%M}-{run.ends.astimezone(ZONE):%H:%M}" for run in found]


def test_a_task_is_worked_at_in_the_shifts_of_its_crew():
    friday, monday = ["Fri 11:00-12:00", "Fri 12:30-16:00"], ["Mon 07:00-08:00"]
    assert runs(local(2027, 5, 7, 11), local(2027, 5, 10, 8)) == friday + monday
    closed = [(date(2027, 5, 7), date(2027, 5, 8))]
    assert runs(local(2027, 5, 7, 11), local(2027, 5, 10, 8), closed=closed) == monday


def test_a_night_shift_goes_on_over_midnight_without_a_break_of_its_strokes():
    night = {day: [(time(0), time(4)), (time(20), time(23, 59, 59))] for day in range(7)}
    assert runs(local(2027, 5, 3, 22), local(2027, 5, 4, 2), night) == ["Mon 22:00-23:59", "Tue 00:00-02:00"]
    found = worked_runs(local(2027, 5, 3, 22), local(2027, 5, 4, 2), shifts=night, closed=(), zone=ZONE)
    days = [mark.at.astimezone(ZONE).day for mark in strokes_of(8, 0, found, an_hour=10).marks]
    assert days == [3] * 4 + [4] * 4


def test_where_its_crew_has_no_hours_a_task_stands_as_it_is_day_by_day():
    assert runs(local(2027, 5, 8, 22), local(2027, 5, 9, 3)) == ["Sat 22:00-00:00", "Sun 00:00-03:00"]
    # A stroke in the moment of midnight is drawn once: on the day that it ends.
    found = worked_runs(local(2027, 5, 8, 22), local(2027, 5, 9, 2), shifts=SPLIT, closed=(), zone=ZONE)
    (mark,) = strokes_of(1, 0, found, an_hour=10).marks
    assert [run.starts < mark.at <= run.ends for run in found] == [True, False]


def test_strokes_are_pieces_evenly_over_the_hours_and_heavy_by_what_is_done():
    found = worked_runs(local(2027, 5, 3, 11), local(2027, 5, 3, 13, 30), shifts=SPLIT, closed=(), zone=ZONE)
    strokes = strokes_of(4, 3, found, an_hour=10)
    at = [f"{mark.at.astimezone(ZONE):%H:%M}" for mark in strokes.marks]
    assert (strokes.each, at) == (1, ["11:15", "11:45", "12:45", "13:15"])
    assert [mark.share for mark in strokes.marks] == [1, 1, 1, 0]


def test_many_pieces_are_drawn_in_groups_of_a_round_number():
    day = [Run(datetime(2027, 5, 3, 12, tzinfo=UTC), datetime(2027, 5, 3, 20, tzinfo=UTC))]
    assert [strokes_of(count, 0, day, an_hour=10).each for count in (80, 81, 400, 401, 5000)] == [1, 2, 5, 10, 100]
    strokes = strokes_of(403, 203, day, an_hour=10)
    assert (strokes.each, len(strokes.marks)) == (10, 41)
    # Twenty whole groups, and three of the ten pieces of the next one.
    assert [round(mark.share, 2) for mark in strokes.marks] == [1.0] * 20 + [0.3] + [0.0] * 20


@given(
    st.integers(0, 5000), st.integers(0, 6000), st.lists(st.integers(1, 600), min_size=1, max_size=6), st.floats(1, 20)
)
def test_groups_hold_every_piece_once_and_stay_in_the_hours(count, done, lengths, an_hour):
    at, day = datetime(2027, 5, 3, tzinfo=UTC), []
    for minutes in lengths:
        day.append(Run(at, at + timedelta(minutes=minutes)))
        at += timedelta(minutes=minutes + 30)
    strokes = strokes_of(count, done, day, an_hour=an_hour)
    assert len(strokes.marks) == -(-count // strokes.each)
    assert len(strokes.marks) <= max(1, ceil(sum(lengths) / 60 * an_hour - 1e-9))
    assert all(sum(run.starts < mark.at <= run.ends for run in day) == 1 for mark in strokes.marks)
    last = count - strokes.each * (len(strokes.marks) - 1)
    sizes = [strokes.each] * (len(strokes.marks) - 1) + [last] * bool(count)
    heavy = sum(mark.share * size for mark, size in zip(strokes.marks, sizes, strict=True))
    assert abs(heavy - min(done, count)) < 1e-6


def test_by_the_clock_so_many_would_be_done():
    found = worked_runs(local(2027, 5, 3, 11), local(2027, 5, 3, 13, 30), shifts=SPLIT, closed=(), zone=ZONE)
    by = [by_then(8, found, local(2027, 5, 3, *at)) for at in ((10, 0), (11, 30), (12, 15), (13, 0), (18, 0))]
    assert by == [0, 2, 4, 6, 8]


def test_hours_of_a_day_with_a_clock_change():
    """14 March 2027 has no hour from 2 to 3, 7 November has the hour from 1 to 2 twice (IANA database)."""
    spring, autumn = Hours(date(2027, 3, 14), 0, 6, ZONE), Hours(date(2027, 11, 7), 0, 6, ZONE)
    assert [words for _, words in spring.marks] == ["0", "1", "3", "4", "5", "6"] and spring.length == 5
    assert [words for _, words in autumn.marks] == ["0", "1", "1", "2", "3", "4", "5", "6"] and autumn.length == 7
    assert spring.at(local(2027, 3, 14, 4)) == 3 and autumn.at(local(2027, 11, 7, 4)) == 5
    assert autumn.at(datetime(2027, 11, 7, 1, 30, tzinfo=ZONE)) == 1.5
    assert autumn.at(datetime(2027, 11, 7, 1, 30, fold=1, tzinfo=ZONE)) == 2.5
    # From 7 in the morning both are days as any other.
    for day in (spring.day, autumn.day):
        work = Hours(day, 7, 16, ZONE)
        assert work.length == 9 and work.at(datetime(day.year, day.month, day.day, 10, 30, tzinfo=ZONE)) == 3.5
    assert Hours(date(2027, 5, 3), 20, 24, ZONE).marks[-1] == (4.0, "24")


def test_strokes_of_a_night_in_which_clocks_change_keep_their_distance():
    night = {6: [(time(0), time(4))]}
    for starts, ends, hours in (
        (local(2027, 3, 14), local(2027, 3, 14, 4), 3),
        (local(2027, 11, 7), local(2027, 11, 7, 4), 5),
    ):
        found = worked_runs(starts, ends, shifts=night, closed=(), zone=ZONE)
        assert sum((run.length for run in found), timedelta()) == timedelta(hours=hours)
        at = [mark.at for mark in strokes_of(12, 0, found, an_hour=10).marks]
        assert {b - a for a, b in pairwise(at)} == {timedelta(hours=hours) / 12}


def test_a_day_is_drawn_from_and_to_a_whole_hour():
    def of(*clocks):
        day = [
            Run(local(2027, 5, 3, *one).astimezone(UTC), local(2027, 5, 3, *other).astimezone(UTC))
            for one, other in clocks
        ]
        return hours_of(day, ZONE)

    assert of(((7, 15), (11, 30)), ((12, 0), (15, 45))) == (7, 16)
    assert of(((22, 30), (23, 30))) == (20, 24) and of(((0, 0), (1, 0))) == (0, 4)
    assert hours_of([], ZONE) == (7, 17)
    midnight = Run(local(2027, 5, 3, 20).astimezone(UTC), local(2027, 5, 4).astimezone(UTC))
    assert hours_of([midnight], ZONE) == (20, 24)


@given(st.text(alphabet="abc MW.io", max_size=60), st.floats(2, 20))
def test_words_are_wrapped_whole_and_never_cut_off(words, room):
    lines = wrapped(words, room, bold=True)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")
    assert all(breadth(line, bold=True) <= room or len(line) == 1 for line in lines)
