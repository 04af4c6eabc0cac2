"""Days of a bender, counted one by one beside the lines that charge them."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.pricing.charges import (
    ChargeLine,
    Since,
    day_lines,
    days_between,
    free_by_season,
    holds_on,
    lines_amount,
    once_line,
)
from tests.size import examples

D = Decimal
FIRST = date(2026, 12, 20)
DAYS = st.integers(0, 24).map(lambda at: FIRST + timedelta(days=at))
RATES = st.dictionaries(DAYS, st.sampled_from([D(0), D("1.005"), D(7)]), max_size=4).flatmap(
    lambda found: st.permutations([Since(day, each) for day, each in found.items()])
)


def in_years(day: date) -> date:
    return day.replace(month=1, day=1)


def in_weeks(day: date) -> date:
    return day - timedelta(days=day.weekday())


def price_on(rates: list[Since], day: date) -> Decimal | None:
    """By going back a day at a time."""
    by_day = {rate.since: rate.each for rate in rates}
    return next((by_day[back] for at in range(60) if (back := day - timedelta(days=at)) in by_day), None)


@examples(40)
@given(RATES, DAYS)
def test_the_price_of_a_day_is_the_latest_that_had_begun(rates, day):
    assert holds_on(rates, day) == price_on(rates, day)


@examples(60)
@given(
    st.sets(DAYS, max_size=14).map(sorted),
    RATES,
    st.sampled_from([in_years, in_weeks]),
    st.dictionaries(DAYS, st.integers(0, 5), max_size=6),
)
def test_every_day_is_charged_once_at_its_price_or_as_one_for_nothing(days, rates, season_of, free):
    free = {season_of(day): count for day, count in free.items()}
    given_ = dict(free)
    kept = [(day, each) for day in days if (each := price_on(rates, day)) is not None]
    charged = []
    for day, each in kept:
        nothing = each > 0 and free.get(season_of(day), 0) > 0
        if nothing:
            free[season_of(day)] -= 1
        charged.append((day, each, nothing))
    more = {} if season_of is in_years else {"season_of": season_of}
    lines = day_lines(days, rates, free_left=given_, **more)
    assert [
        (line.first + timedelta(days=at), line.each, line.free > 0) for line in lines for at in range(line.count)
    ] == charged
    for line in lines:
        assert line.last == line.first + timedelta(days=line.count - 1)
        assert line.free in (0, line.count)
        assert not line.once
    # Nothing that could be one line is two.
    for one, other in pairwise(lines):
        gap = other.first - one.last > timedelta(days=1)
        assert gap or one.each != other.each or bool(one.free) != bool(other.free)
    used: dict[date, int] = {}
    for day, _, nothing in charged:
        if nothing:
            used[season_of(day)] = used.get(season_of(day), 0) + 1
    assert free_by_season(lines, season_of) == used
    coins = 0
    for line in lines:
        coins += (2 * Fraction(line.each) * (line.count - line.free) * 100 + 1) // 2
    assert lines_amount(lines, "USD") == D(coins) / 100
    assert all(line.free == 0 for line in day_lines(days, rates, **more))


@examples(30)
@given(DAYS, st.integers(0, 3), RATES)
def test_what_is_charged_once_is_charged_at_its_day(day, count, rates):
    each = price_on(rates, day)
    found = once_line(day, count, rates)
    assert found == ([ChargeLine(day, day, count, each, 0, True)] if count and each is not None else [])
    # A line that is not day by day costs its count.
    assert lines_amount(found, "USD") == (0 if not found else (count * each).quantize(D("0.01"), "ROUND_HALF_UP"))


def test_days_between_have_both_ends():
    assert days_between(date(2028, 2, 28), date(2028, 3, 1)) == [
        date(2028, 2, 28),
        date(2028, 2, 29),
        date(2028, 3, 1),
    ]
    assert days_between(FIRST, FIRST) == [FIRST]
    assert days_between(FIRST, FIRST - timedelta(days=1)) == []


def test_the_first_days_of_a_season_are_free_and_no_more():
    days = days_between(FIRST, FIRST + timedelta(days=14))
    rates = [Since(FIRST, D(7)), Since(FIRST + timedelta(days=13), D(8))]
    lines = day_lines(days, rates, free_left={date(2026, 1, 1): 3, date(2027, 1, 1): 1})
    found = [(line.first.day, line.count, line.each, line.free) for line in lines]
    assert found == [(20, 3, 7, 3), (23, 9, 7, 0), (1, 1, 7, 1), (2, 2, 8, 0)]
