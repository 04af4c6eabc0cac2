"""Windows of working hours against a simulation minute by minute, and clock changes worked by hand."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import pytest
from dateutil import tz as other_zones
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.scheduling.inputs import Window
from farmbuild.planning.work.hours import Hours, crew_windows, next_slot, slots_of
from tests.size import examples

ZONES = ["America/New_York", "Europe/Vienna", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]
#: In autumn the clocks of Nuuk go from midnight back to 23:00 of the day before.
OVER_MIDNIGHT = "America/Nuuk"
#: Days of clock changes. New York: second Sunday of March, first of November (15 U.S.C. 260a). Vienna: last Sundays of
#: March and October (Directive 2000/84/EC). Lord Howe: first Sundays of April and October (IANA, file australasia).
CHANGES = [
    *(date(*day) for day in [(2026, 3, 8), (2026, 11, 1), (2027, 3, 14), (2027, 11, 7), (2028, 3, 12), (2028, 11, 5)]),
    *(date(*day) for day in [(2026, 3, 29), (2026, 10, 25), (2027, 3, 28), (2027, 10, 31), (2028, 3, 26)]),
    *(date(*day) for day in [(2028, 10, 29), (2026, 4, 5), (2026, 10, 4), (2027, 4, 4), (2027, 10, 3), (2028, 4, 2)]),
    date(2028, 10, 1),
]
MINUTE = timedelta(minutes=1)


def simulated(*, hours, people, zone, start, days, closed=()):
    """People there in each slot, by looking at the clock on the wall every minute."""
    first = start.astimezone(zone).date()
    there: dict[int, int] = {}
    for slot in range((days + 2) * 96):
        least = None
        for minute in range(15):
            wall = (start + (slot * 15 + minute) * MINUTE).astimezone(zone)
            day = wall.date()
            open_now = any(row.day == day.weekday() and row.starts <= wall.time() < row.ends for row in hours)
            shut = any(a <= day <= b for a, b in closed)
            count = 0
            if open_now and not shut and day < first + timedelta(days=days):
                count = len([person for person in people if not any(a <= day <= b for a, b in person)])
            least = count if least is None else min(least, count)
        if least:
            there[slot] = least
    return there


def expanded(windows):
    for one, after in itertools.pairwise(windows):
        assert one.end <= after.start
        assert one.end < after.start or one.capacity != after.capacity
    return {slot: window.capacity for window in windows for slot in range(window.start, window.end)}


times = st.integers(0, 95).map(lambda quarter: time(quarter // 4, quarter % 4 * 15))


@st.composite
def spans(draw, day):
    starts, ends = sorted((draw(times), draw(times)))
    # The last minute of a day stands for its end: 24:00 cannot be typed.
    return Hours(day, starts, ends if starts < ends else time(23, 45))


@st.composite
def cases(draw):
    day = draw(st.sampled_from(CHANGES) | st.dates(date(2026, 1, 1), date(2028, 12, 31)))
    begun = datetime.combine(day, time(), UTC) + timedelta(minutes=15 * draw(st.integers(-120, 60)))
    off = st.tuples(st.integers(-2, 3), st.integers(0, 2)).map(
        lambda at: (day + timedelta(days=at[0]), day + timedelta(days=at[0] + at[1]))
    )
    return {
        "hours": [row for weekday in range(7) for row in draw(st.lists(spans(weekday), max_size=2))],
        "people": draw(st.lists(st.lists(off, max_size=2), max_size=4)),
        "closed": draw(st.lists(off, max_size=1)),
        "start": begun,
        "days": draw(st.integers(0, 3)),
    }


@pytest.mark.parametrize("zone", [*ZONES, OVER_MIDNIGHT])
@examples(25)
@given(case=cases())
def test_windows_are_those_of_a_clock_on_the_wall(zone, case):
    assert expanded(crew_windows(zone=zone, **case)) == simulated(zone=ZoneInfo(zone), **case)


#: Worked by night, so that every clock change lies in the hours.
ALWAYS = [Hours(day, time(0, 0), time(23, 45)) for day in range(7)]


@pytest.mark.parametrize("zone", ZONES)
def test_every_change_of_three_years_is_where_another_library_has_it(zone):
    """The simulation with the zones of python-dateutil, which reads the IANA files by code of its own."""
    elsewhere = other_zones.gettz(zone)
    for day in CHANGES:
        start = datetime.combine(day, time(), UTC) - timedelta(days=1)
        case = {"hours": ALWAYS, "people": [()], "start": start, "days": 3}
        assert expanded(crew_windows(zone=zone, **case)) == simulated(zone=elsewhere, **case)


@pytest.mark.parametrize("zone", ["America/New_York", "Australia/Lord_Howe"])
def test_a_year_from_summer_to_summer_holds_both_changes(zone):
    start = datetime(2027, 7, 1, tzinfo=UTC)
    hours = [Hours(day, time(8), time(16)) for day in range(6)]
    case = {"hours": hours, "people": [(), [(date(2027, 8, 2), date(2027, 8, 20))]], "start": start, "days": 366}
    assert expanded(crew_windows(zone=zone, **case)) == simulated(zone=ZoneInfo(zone), **case)


NIGHT = [Hours(6, time(1, 0), time(4, 0)), Hours(5, time(8, 0), time(12, 0))]


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("America/New_York", date(2027, 3, 14), 2),  # 02:00 to 03:00 is left out
        ("America/New_York", date(2027, 11, 7), 4),  # 01:00 to 02:00 comes twice
        ("Europe/Vienna", date(2027, 3, 28), 2),
        ("Europe/Vienna", date(2027, 10, 31), 4),
        ("Australia/Lord_Howe", date(2027, 10, 3), 2.5),  # half an hour
        ("Australia/Lord_Howe", date(2027, 4, 4), 3.5),
        ("Asia/Kathmandu", date(2027, 3, 14), 3),
        ("UTC", date(2027, 3, 14), 3),
    ],
)
def test_a_night_of_three_hours_is_shorter_in_spring_and_longer_in_autumn(zone, day, hours):
    start = datetime.combine(day, time(), ZoneInfo(zone))
    windows = crew_windows(hours=NIGHT, people=[()], zone=zone, start=start, days=1)
    assert sum(window.end - window.start for window in windows) == hours * 4


def test_half_of_the_repeated_hour_is_worked_in_two_parts():
    """New York, 7 November 2027: 01:30 to 02:00 comes twice, and 01:00 to 01:30 lies between."""
    start = datetime(2027, 11, 7, 4, tzinfo=UTC)  # midnight there
    hours = [Hours(6, time(1, 30), time(2, 30))]
    windows = crew_windows(hours=hours, people=[()], zone="America/New_York", start=start, days=1)
    assert [(window.start, window.end) for window in windows] == [(6, 8), (10, 14)]


def test_a_week_with_a_day_off_and_a_holiday():
    start = datetime(2027, 5, 3, 6, tzinfo=UTC)  # Monday, 08:00 in Vienna
    hours = [Hours(day, *span) for day in range(5) for span in [(time(7), time(12)), (time(13), time(16))]]
    windows = crew_windows(
        hours=hours,
        people=[(), [(date(2027, 5, 4), date(2027, 5, 4))]],
        closed=[(date(2027, 5, 5), date(2027, 5, 5))],
        zone="Europe/Vienna",
        start=start,
        days=4,
    )
    assert [(window.start, window.end, window.capacity) for window in windows] == [
        (0, 16, 2),  # from the start at 08:00, not from 07:00
        (20, 32, 2),
        (92, 112, 1),
        (116, 128, 1),
        (284, 304, 2),  # nothing on Wednesday
        (308, 320, 2),
    ]


def test_another_zone_shifts_the_windows():
    start = datetime(2027, 1, 4, tzinfo=UTC)
    hours = [Hours(0, time(8), time(12))]
    given_here = {"hours": hours, "people": [()], "start": start, "days": 2}
    first = {zone: crew_windows(zone=zone, **given_here)[0].start for zone in ZONES}
    # 08:00 less what the wall clock is ahead of UTC in January, in quarters of an hour.
    assert first["UTC"] == 32
    assert first["Europe/Vienna"] == 28
    assert first["America/New_York"] == 52
    assert first["Asia/Kathmandu"] == 32 - 23
    # 00:00 UTC is 11:00 there: an hour of the morning is left.
    assert crew_windows(zone="Australia/Lord_Howe", **given_here)[0] == Window(0, 4, 1)


def test_hours_that_overlap_count_once_and_touching_ones_join():
    start = datetime(2027, 1, 4, tzinfo=UTC)
    hours = [Hours(0, time(8), time(12)), Hours(0, time(10), time(11)), Hours(0, time(12), time(13))]
    (window,) = crew_windows(hours=hours, people=[(), ()], zone="UTC", start=start, days=1)
    assert (window.start, window.end, window.capacity) == (32, 52, 2)


def test_a_slot_counts_when_the_whole_of_it_is_worked():
    start = datetime(2027, 1, 4, tzinfo=UTC)
    (window,) = crew_windows(hours=[Hours(0, time(8, 5), time(9, 10))], people=[()], zone="UTC", start=start, days=1)
    assert (window.start, window.end) == (33, 36)


def test_a_start_off_the_quarter_hour_or_without_a_zone_is_refused():
    given_here = {"hours": [], "people": [], "zone": "UTC", "days": 1}
    with pytest.raises(ValueError, match="quarter"):
        crew_windows(start=datetime(2027, 1, 4, 8, 1, tzinfo=UTC), **given_here)
    with pytest.raises(ValueError, match="no time zone"):
        crew_windows(start=datetime(2027, 1, 4, 8), **given_here)  # noqa: DTZ001
    with pytest.raises(ZoneInfoNotFoundError):
        crew_windows(start=datetime(2027, 1, 4, 8, tzinfo=UTC), **given_here | {"zone": "Nowhere/Atall"})


@given(moment=st.datetimes(datetime(2026, 1, 1), datetime(2028, 12, 31), timezones=st.just(UTC)))  # noqa: DTZ001
def test_the_next_slot_is_the_first_not_before(moment):
    slot = next_slot(moment)
    assert timedelta(0) <= slot - moment < timedelta(minutes=15)
    assert slot.minute % 15 == slot.second == slot.microsecond == 0


def test_minutes_on_the_road_round_up_to_slots():
    assert [slots_of(minutes) for minutes in (0, 1, 15, 16, 1440)] == [0, 1, 1, 2, 96]
