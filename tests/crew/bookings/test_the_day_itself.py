"""First and last days are part of a booking, a request and a lateness; the day before and the day after are not."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError

from farmbuild.crew.bookings import member_requests, moving, services
from farmbuild.crew.bookings.rules import check_days
from farmbuild.crew.bookings.selectors import bender_blocks, late_of, open_bookings_of, past_bookings_of, spans_of
from farmbuild.crew.people.calendar_services import LATEST
from farmbuild.orgs.clock import today_of
from tests.factories import BenderBookingFactory, BenderFactory, BenderRequestFactory, MemberFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def today(organisation):
    return today_of(organisation=organisation)


@pytest.fixture
def bender(organisation):
    return BenderFactory(organisation=organisation, name="West bender")


@pytest.fixture
def member(organisation):
    return MemberFactory(organisation=organisation, name="Alder Patch")


@pytest.fixture
def at(today):
    return lambda first, last: {"first": today + first * DAY, "last": today + last * DAY}


def test_a_booking_of_one_day_is_fetched_on_its_day(who, bender, at):
    out = services.check_out(**who, booking=services.book(**who, bender=bender, **at(0, 0)), condition="sound")
    assert (out.state, out.first, out.last, out.moves.count()) == ("out", *at(0, 0).values(), 0)


def test_a_booking_is_fetched_on_its_last_day_and_not_on_the_day_after(who, bender, today, at):
    over = BenderBookingFactory(bender=bender, **at(-3, -1))
    with pytest.raises(ValidationError, match="The booking ended on"):
        services.check_out(**who, booking=over, condition="sound")
    assert (
        services.check_out(**who, booking=BenderBookingFactory(bender=bender, **at(0, 0)), condition="x").last == today
    )


def test_a_bender_leaves_early_up_to_the_day_before_a_booking_that_follows_it(who, bender, at, today):
    coming = services.book(**who, bender=bender, **at(2, 3))
    today_only = services.book(**who, bender=bender, **at(0, 0))
    with pytest.raises(ValidationError, match="It cannot leave before"):
        services.check_out(**who, booking=coming, condition="sound")
    services.cancel(**who, booking=today_only)
    day_before = services.book(**who, bender=bender, **at(1, 1))
    with pytest.raises(ValidationError, match=rf"It cannot leave before .*{(today + 2 * DAY).day} "):
        services.check_out(**who, booking=coming, condition="sound")
    services.cancel(**who, booking=day_before)
    assert services.check_out(**who, booking=coming, condition="sound").first == today


def test_days_from_today_to_the_last_there_is():
    today = date(2027, 5, 3)
    check_days(today, today, today)
    check_days(today - DAY, today, today, was_first=today - DAY)
    check_days(LATEST, LATEST, today)
    for first, last, field in (
        (today - DAY, today, "first"),
        (today + DAY, today, "last"),
        (LATEST, LATEST + DAY, "last"),
    ):
        with pytest.raises(ValidationError) as told:
            check_days(first, last, today)
        assert list(told.value.message_dict) == [field]
    with pytest.raises(ValidationError) as told:
        check_days(today - 2 * DAY, today - DAY, today, was_first=today - 2 * DAY)
    assert list(told.value.message_dict) == ["last"]


def test_a_bender_due_back_today_is_not_late_and_one_due_yesterday_delays_what_starts_today(
    organisation, bender, member, today, at
):
    due = BenderBookingFactory(bender=BenderFactory(organisation=organisation), state="out", **at(-2, 0))
    late = BenderBookingFactory(bender=bender, member=member, state="out", **at(-3, -1))
    (found,) = late_of(organisation=organisation, today=today)
    assert (found.booking, found.days, found.delays, found.next) == (late, 1, (), None)
    tomorrow = BenderBookingFactory(bender=bender, **at(1, 2))
    assert [(row.delays, row.next) for row in late_of(organisation=organisation, today=today)] == [((), tomorrow)]
    starts = BenderBookingFactory(bender=bender, **at(0, 0))
    assert [(row.delays, row.next) for row in late_of(organisation=organisation, today=today)] == [((starts,), starts)]
    kept = {row.pk: last for row, last in spans_of(organisation=organisation, today=today)}
    assert kept == {due.pk: today, late.pk: today, tomorrow.pk: tomorrow.last, starts.pk: today}


def test_a_booking_that_ends_today_is_open_and_one_that_ended_yesterday_is_past(organisation, bender, today, at):
    ended, ends = BenderBookingFactory(bender=bender, **at(-3, -1)), BenderBookingFactory(bender=bender, **at(0, 0))
    assert list(open_bookings_of(organisation=organisation, today=today)) == [ends]
    assert list(past_bookings_of(organisation=organisation, today=today)) == [ended]


def test_what_touches_the_first_or_the_last_day_looked_at_blocks_it(organisation, bender, member, at, today):
    for first, last in ((1, 2), (3, 5), (6, 6), (7, 8)):
        BenderBookingFactory(bender=bender, member=member, **at(first, last))
    found = bender_blocks(organisation, today + 2 * DAY, 5)[bender.pk]
    assert found == [tuple(at(first, last).values()) for first, last in ((1, 2), (3, 5), (6, 6))]


def test_a_request_for_all_of_its_days_is_met_by_exactly_these(who, bender, member, today, at):
    data = {"member": member, "earliest": today, "need_by": today + 2 * DAY, "note": ""}
    with pytest.raises(ValidationError, match="there are 3 days"):
        member_requests.create_request(**who, data=data | {"days": 4})
    request = member_requests.create_request(**who, data=data | {"days": 3})
    one = member_requests.create_request(**who, data=data | {"days": 1, "need_by": today})
    for first, last in ((0, 3), (1, 3), (-1, 1), (0, 1)):
        with pytest.raises(ValidationError, match="asked for other days"):
            member_requests.book_proposal(
                **who, wishes=[member_requests.ProposedBooking(request.pk, bender.pk, *at(first, last).values())]
            )
    (row,) = member_requests.book_proposal(
        **who, wishes=[member_requests.ProposedBooking(request.pk, bender.pk, *at(0, 2).values())]
    )
    assert not moving.differs_from_request(row)
    assert one.days == 1


@pytest.mark.parametrize(("first", "last", "otherwise"), [(1, 2, False), (2, 3, False), (0, 1, True), (3, 4, True)])
def test_asked_otherwise_is_outside_of_its_days(bender, member, at, today, first, last, otherwise):
    asked = BenderRequestFactory(member=member, days=2, earliest=today + DAY, need_by=today + 3 * DAY)
    assert (
        moving.differs_from_request(BenderBookingFactory(bender=bender, request=asked, **at(first, last))) is otherwise
    )


def test_other_days_or_another_bender_than_asked_for_are_otherwise(organisation, bender, member, at, today):
    asked = BenderRequestFactory(member=member, days=2, earliest=today, need_by=today + 5 * DAY, bender=bender)
    row = BenderBookingFactory(bender=bender, request=asked, **at(0, 1))
    assert not moving.differs_from_request(row)
    row.last += DAY
    assert moving.differs_from_request(row)
    row.last, row.bender = today + DAY, BenderFactory(organisation=organisation)
    assert moving.differs_from_request(row)
    row.request = None
    assert not moving.differs_from_request(row)


def test_a_member_with_a_booking_that_ends_today_is_not_archived(who, bender, member, at):
    booking = BenderBookingFactory(bender=bender, member=member, **at(-1, 0))
    with pytest.raises(ValidationError, match="booking to come"):
        member_requests.archive_member(**who, member=member)
    booking.last -= DAY
    booking.save()
    member_requests.archive_member(**who, member=member)


def test_how_long_one_that_is_out_can_stay(organisation, who, bender, at, today):
    row = BenderBookingFactory(bender=bender, state="out", **at(-1, 1))
    assert moving.free_days_of(organisation=organisation, booking=row) == moving.FreeDays(None, None)
    BenderBookingFactory(bender=bender, state="cancelled", **at(2, 2))
    following = BenderBookingFactory(bender=bender, **at(4, 5))
    BenderBookingFactory(bender=bender, **at(8, 9))
    BenderBookingFactory(bender=BenderFactory(organisation=organisation), **at(2, 3))
    assert moving.free_days_of(organisation=organisation, booking=row) == moving.FreeDays(today + 3 * DAY, following)
    with pytest.raises(ValidationError, match=rf"or type .*{(today + 3 * DAY).day} .* or an earlier day"):
        moving.move(**who, booking=row, bender=bender, **at(-1, 4))
    assert moving.move(**who, booking=row, bender=bender, **at(-1, 3)).last == today + 3 * DAY
