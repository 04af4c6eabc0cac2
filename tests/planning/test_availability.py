"""Availability by day against a recount of every single day."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.season.availability import Cause, Change, Way, look_ahead

TODAY = date(2027, 3, 1)
DAYS = 40
changes = st.builds(
    Change,
    day=st.integers(-10, DAYS - 1).map(lambda n: TODAY + timedelta(days=n)),
    cause=st.sampled_from([Cause.INCOMING, Cause.RESERVED, Cause.DEMAND]),
    quantity=st.integers(0, 30),
)
ways = st.builds(
    Way,
    supplier=st.sampled_from("abc"),
    lead_days=st.integers(0, 50),
    valid_until=st.none() | st.integers(-20, 60).map(lambda n: TODAY + timedelta(days=n)),
)


def recount(on_hand, rows):
    """What is there at the end of each day, counted anew for each day from all rows."""
    ends = []
    for n in range(DAYS + 1):
        day = TODAY + timedelta(days=n)
        left = on_hand
        for row in rows:
            if row.cause == Cause.INCOMING:
                arrives = row.day if row.day >= TODAY else TODAY + timedelta(days=1)
                left += row.quantity if arrives <= day else 0
            elif row.day <= day:
                left -= row.quantity
        ends.append((day, left))
    return ends


def can_be_ordered(day, way, needed):
    """Ordered on ``day``, it is there when needed, and the offer holds."""
    return day + timedelta(days=way.lead_days) <= needed and (way.valid_until is None or day <= way.valid_until)


@given(st.integers(0, 60), st.lists(changes, max_size=12), st.lists(ways, max_size=4))
def test_as_a_recount_of_every_day(on_hand, rows, offers):
    seen = look_ahead(on_hand=on_hand, changes=rows, ways=offers, today=TODAY)
    ends = recount(on_hand, rows)
    first = next(((day, left) for day, left in ends if left < 0), None)
    assert seen.balance == ends[-1][1]
    assert seen.most_short == max(0, -min(left for _, left in ends))
    if first is None:
        assert (seen.short_on, seen.short_by, seen.order_by) == (None, 0, None)
        return
    assert (seen.short_on, -seen.short_by) == first
    # Every day within reach is tried with every offer that holds today.
    holding = [way for way in offers if way.valid_until is None or way.valid_until >= TODAY]
    reach = [TODAY + timedelta(days=n) for n in range(-60, DAYS + 1)]
    possible = [(day, way) for day in reach for way in holding if can_be_ordered(day, way, seen.short_on)]
    if not possible:
        assert seen.order_by is None
        return
    last = max(day for day, _ in possible)
    assert seen.order_by.day == last
    assert seen.order_by.supplier in {way.supplier for day, way in possible if day == last}
    assert TODAY - timedelta(days=seen.order_by.days_late) == min(last, TODAY)


def test_one_worked_by_hand():
    """20 there; 12 and 12 are taken in May, 10 come in between; then 20 more are wanted."""

    def may(day: int) -> date:
        return date(2027, 5, day)

    rows = [
        Change(may(12), Cause.RESERVED, 12, "North 1"),
        Change(may(20), Cause.RESERVED, 12, "Creek 1"),
        Change(may(14), Cause.INCOMING, 10, "order 4-1 line 1"),
        Change(may(24), Cause.DEMAND, 20, "Hill 1"),
    ]
    offers = [Way("slow", 30), Way("quick", 21), Way("gone", 1, date(2027, 2, 1))]
    seen = look_ahead(on_hand=20, changes=rows, ways=offers, today=TODAY)
    assert [step.balance for step in seen.steps] == [20, 8, 18, 6, -14]
    assert (seen.short_on, seen.short_by) == (may(24), 14)
    assert (seen.order_by.day, seen.order_by.supplier, seen.order_by.days_late) == (may(3), "quick", 0)
    late = look_ahead(on_hand=20, changes=rows, ways=offers, today=may(10))
    assert (late.order_by.day, late.order_by.days_late) == (may(3), 7)


def test_what_comes_on_the_day_is_there_for_the_day():
    rows = [Change(TODAY, Cause.RESERVED, 5), Change(TODAY, Cause.INCOMING, 5)]
    assert look_ahead(on_hand=0, changes=rows, ways=[], today=TODAY).short_on is None


def test_an_overdue_delivery_is_not_there_today():
    week_ago = TODAY - timedelta(days=7)
    rows = [Change(week_ago, Cause.INCOMING, 5), Change(week_ago, Cause.RESERVED, 5)]
    seen = look_ahead(on_hand=0, changes=rows, ways=[], today=TODAY)
    assert seen.short_on == TODAY
    assert seen.balance == 0
    assert all(step.late for step in seen.steps[1:])


def test_of_equal_last_days_the_shorter_way_and_then_the_first_name():
    needed = TODAY + timedelta(days=20)
    ends = TODAY + timedelta(days=5)
    ways = [Way("c", 10, ends), Way("b", 15), Way("a", 15), Way("d", 16)]
    # Day 5 for all but d: the offer of c ends then, a and b take 15 days.
    told = look_ahead(on_hand=0, changes=[Change(needed, Cause.DEMAND, 1)], ways=ways, today=TODAY).order_by
    assert (told.day, told.supplier, told.lead_days, told.days_late) == (ends, "c", 10, 0)
    told = look_ahead(on_hand=0, changes=[Change(needed, Cause.DEMAND, 1)], ways=ways[1:], today=TODAY).order_by
    assert (told.day, told.supplier) == (ends, "a")


def test_an_offer_can_be_ordered_on_its_last_day():
    needed = [Change(TODAY + timedelta(days=9), Cause.DEMAND, 1)]
    for ends, told in ((TODAY, TODAY), (TODAY - timedelta(days=1), None)):
        order_by = look_ahead(on_hand=0, changes=needed, ways=[Way("a", 1, ends)], today=TODAY).order_by
        assert (order_by and order_by.day) == told


def test_steps_of_one_day_come_first_and_are_taken_after():
    """Then by the day they were due, and in the order of the causes and of their notes."""
    ago, on = TODAY - timedelta(days=3), Change
    rows = [
        on(TODAY, Cause.RESERVED, 1, "b"),
        on(TODAY, Cause.DEMAND, 1),
        on(TODAY, Cause.RESERVED, 1, "a"),
        on(ago, Cause.DEMAND, 1),
        on(TODAY, Cause.INCOMING, 4),
        on(TODAY, Cause.INCOMING, 0),
    ]
    seen = look_ahead(on_hand=2, changes=rows, ways=[], today=TODAY)
    assert [(step.change, step.balance) for step in seen.steps[1:]] == [
        (rows[4], 6),
        (rows[3], 5),
        (rows[1], 4),
        (rows[2], 3),
        (rows[0], 2),
    ]
    assert [step.late for step in seen.steps] == [False, False, True, False, False, False]
