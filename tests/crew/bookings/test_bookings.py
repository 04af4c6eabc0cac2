"""Bookings: made, refused, cancelled, fetched, brought back, late; straight SQL; another organisation's rows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction

from farmbuild.crew.bookings import member_requests, services
from farmbuild.crew.bookings.selectors import bender_blocks, late_of, past_bookings_of
from farmbuild.crew.models import BenderBooking, BenderRequest, BookingMove
from farmbuild.orgs.clock import today_of
from tests.factories import BenderBookingFactory, BenderFactory, BenderRequestFactory, MemberFactory

pytestmark = pytest.mark.django_db


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


def days(start: date, first: int, last: int) -> dict[str, date]:
    return {"first": start + timedelta(days=first), "last": start + timedelta(days=last)}


def test_days_next_to_each_other_are_free_and_one_shared_day_is_not(who, bender, member, today):
    services.book(**who, bender=bender, member=member, **days(today, 2, 4))
    services.book(**who, bender=bender, **days(today, 5, 5))
    services.book(**who, bender=bender, **days(today, 0, 1))
    services.book(**who, bender=bender, **days(today, 8, 12))
    for first, last in ((4, 7), (6, 8), (1, 2), (3, 3), (0, 9)):
        with pytest.raises(ValidationError, match=r"has West bender .* Choose other days"):
            services.book(**who, bender=bender, **days(today, first, last))
    assert BenderBooking.objects.count() == 4


def test_what_cannot_be_is_said_at_its_field(who, bender, member, today):
    for given, field in ((days(today, -1, 1), "first"), (days(today, 3, 2), "last"), (days(today, 1, 40000), "last")):
        with pytest.raises(ValidationError) as refused:
            services.book(**who, bender=bender, member=member, **given)
        assert list(refused.value.message_dict) == [field]
    strange = MemberFactory()
    with pytest.raises(ValidationError):
        services.book(**who, bender=bender, member=strange, **days(today, 1, 2))
    with pytest.raises(ValidationError):
        services.book(**who, bender=BenderFactory(), **days(today, 1, 2))
    assert not BenderBooking.objects.exists()


def test_out_and_back_with_its_condition(who, bender, member, today):
    booking = services.book(**who, bender=bender, member=member, **days(today, 0, 4))
    with pytest.raises(ValidationError, match="how the bender leaves"):
        services.check_out(**who, booking=booking, condition="  ")
    assert services.check_out(**who, booking=booking, condition="sound").state == "out"
    with pytest.raises(ValidationError, match="out already"):
        services.check_out(**who, booking=booking, condition="sound")
    with pytest.raises(ValidationError, match="nothing to cancel"):
        services.cancel(**who, booking=booking)
    back = services.check_in(**who, booking=booking, condition="one bolt gone")
    assert (back.state, back.out_condition, back.back_condition) == ("back", "sound", "one bolt gone")
    services.book(**who, bender=bender, **days(today, 1, 4))


def test_not_after_its_days(who, bender, member, today):
    over = BenderBookingFactory(bender=bender, member=member, **days(today, -4, -2))
    with pytest.raises(ValidationError, match="The booking ended on"):
        services.check_out(**who, booking=over, condition="sound")


def test_before_its_first_day_it_leaves_if_nobody_has_it_until_then(who, bender, member, today):
    coming = services.book(**who, bender=bender, member=member, **days(today, 3, 5))
    between = services.book(**who, bender=bender, **days(today, 1, 2))
    with pytest.raises(ValidationError, match=r"Our own work has West bender .* It cannot leave before"):
        services.check_out(**who, booking=coming, condition="sound")
    coming.refresh_from_db()
    assert (coming.state, coming.first, coming.moves.count()) == ("booked", today + timedelta(days=3), 0)
    services.cancel(**who, booking=between)
    out = services.check_out(**who, booking=coming, condition="sound")
    assert (out.state, out.first, out.last) == ("out", today, today + timedelta(days=5))
    kept = BookingMove.objects.get()
    assert (kept.booking, kept.from_first, kept.to_first, kept.moved_by) == (
        coming,
        today + timedelta(days=3),
        today,
        who["user"],
    )
    with pytest.raises(ValidationError, match="Alder Patch has West bender"):
        services.book(**who, bender=bender, **days(today, 1, 2))


def test_it_leaves_after_the_last_of_those_who_have_it_before(who, bender, member, today):
    coming = services.book(**who, bender=bender, member=member, **days(today, 6, 7))
    first, second = (services.book(**who, bender=bender, **days(today, n, n)) for n in (1, 3))
    assert services.after([first, second]) == services.after([second, first]) == today + timedelta(days=4)
    with pytest.raises(ValidationError, match=rf"It cannot leave before {(today + timedelta(days=4)).day} "):
        services.check_out(**who, booking=coming, condition="sound")


def test_it_does_not_leave_early_while_someone_has_it_late(who, bender, member, today):
    coming = services.book(**who, bender=bender, member=member, **days(today, 3, 5))
    BenderBookingFactory(bender=bender, state="out", member=None, **days(today, -4, -2))
    with pytest.raises(ValidationError, match="Our own work has West bender still"):
        services.check_out(**who, booking=coming, condition="sound")


def test_a_late_bender_blocks_and_says_whom_it_delays(who, organisation, bender, member, today):
    late = BenderBookingFactory(bender=bender, member=member, state="out", **days(today, -6, -2))
    waits = BenderBookingFactory(bender=bender, **days(today, -1, 1))
    later = BenderBookingFactory(bender=bender, **days(today, 4, 5))
    (found,) = late_of(organisation=organisation, today=today)
    assert (found.booking, found.days, found.delays, found.next) == (late, 2, (waits,), waits)
    with pytest.raises(ValidationError, match="Alder Patch has West bender still"):
        services.check_out(**who, booking=waits, condition="sound")
    services.cancel(**who, booking=waits)
    with pytest.raises(ValidationError, match="still, due back"):
        services.book(**who, bender=bender, **days(today, 0, 1))
    services.book(**who, bender=bender, **days(today, 1, 1))
    blocks = bender_blocks(organisation, today - timedelta(days=1), 10)[bender.pk]
    assert (late.first, today) in blocks
    assert (later.first, later.last) in blocks
    assert len(blocks) == 2  # The day of one's own work blocks nothing of it.
    services.check_in(**who, booking=late, condition="bent handle")
    assert late_of(organisation=organisation, today=today) == ()


def test_today_is_of_the_time_zone(organisation, monkeypatch):
    organisation.time_zone = "Pacific/Auckland"
    monkeypatch.setattr("django.utils.timezone.now", lambda: datetime(2027, 5, 3, 20, tzinfo=UTC))
    assert today_of(organisation=organisation) == date(2027, 5, 4)


def test_a_request_is_met_by_one_booking_and_open_again_when_it_is_cancelled(who, bender, member, today):
    data = {"member": member, "days": 2, "earliest": today, "need_by": today + timedelta(days=5), "note": ""}
    request = member_requests.create_request(**who, data=data)
    first = services.book(**who, bender=bender, member=member, request=request, **days(today, 0, 1))
    request.refresh_from_db()
    assert request.state == "given"
    with pytest.raises(ValidationError, match="asks for it no more"):
        services.book(**who, bender=bender, member=member, request=request, **days(today, 2, 3))
    with pytest.raises(ValidationError, match="Cancel the booking first"):
        member_requests.withdraw_request(**who, request=request)
    services.cancel(**who, booking=first)
    request.refresh_from_db()
    assert request.state == "asked"
    assert services.book(**who, bender=bender, member=member, request=request, **days(today, 2, 3)).request == request


def test_a_proposal_is_booked_whole_or_not_at_all(who, organisation, bender, member, today):
    requests = [
        BenderRequestFactory(member=member, earliest=today, need_by=today + timedelta(days=5)) for _ in range(2)
    ]
    wishes = [
        member_requests.ProposedBooking(
            row.pk, bender.pk, today + timedelta(days=2 * n), today + timedelta(days=2 * n + 1)
        )
        for n, row in enumerate(requests)
    ]
    taken = services.book(**who, bender=bender, **days(today, 3, 3))
    with pytest.raises(ValidationError, match=r"Something changed meanwhile for Alder Patch.*Nothing was booked"):
        member_requests.book_proposal(**who, wishes=wishes)
    assert BenderBooking.objects.get() == taken
    assert set(BenderRequest.objects.values_list("state", flat=True)) == {"asked"}
    services.cancel(**who, booking=taken)
    assert len(member_requests.book_proposal(**who, wishes=wishes)) == 2
    with pytest.raises(ValidationError, match="other days"):
        member_requests.book_proposal(
            **who, wishes=[member_requests.ProposedBooking(requests[0].pk, bender.pk, today, today)]
        )


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"earliest": -1}, "earliest"),
        ({"need_by": -1}, "need_by"),
        ({"days": 9}, "days"),
        ({"need_by": 40000}, "need_by"),
    ],
)
def test_a_request_that_cannot_be_is_refused_at_its_field(who, member, today, data, field):
    usual = {"member": member, "days": 2, "earliest": 0, "need_by": 5} | data
    usual |= {name: today + timedelta(days=usual[name]) for name in ("earliest", "need_by")}
    with pytest.raises(ValidationError) as refused:
        member_requests.create_request(**who, data=usual)
    assert list(refused.value.message_dict) == [field]


def test_a_member_that_has_something_stays(who, bender, member, today):
    booking = services.book(**who, bender=bender, member=member, **days(today, 0, 1))
    with pytest.raises(ValidationError, match="booking to come"):
        member_requests.archive_member(**who, member=member)
    services.check_out(**who, booking=booking, condition="sound")
    with pytest.raises(ValidationError, match="Check it in first"):
        member_requests.archive_member(**who, member=member)
    services.check_in(**who, booking=booking, condition="sound")
    member_requests.archive_member(**who, member=member)
    with pytest.raises(ValidationError, match="is archived"):
        services.book(**who, bender=bender, member=member, **days(today, 3, 3))


def test_a_member_with_an_open_request_stays_and_asks_no_more_once_archived(who, organisation, member, today):
    BenderRequestFactory(member=MemberFactory(organisation=organisation), earliest=today)
    data = {"member": member, "days": 1, "earliest": today, "need_by": today, "note": ""}
    request = member_requests.create_request(**who, data=data)
    with pytest.raises(ValidationError, match="has an open request"):
        member_requests.archive_member(**who, member=member)
    member_requests.withdraw_request(**who, request=request)
    member_requests.archive_member(**who, member=member)
    with pytest.raises(ValidationError, match="Alder Patch is archived"):
        member_requests.create_request(**who, data=data)


def test_what_is_not_out_does_not_come_back(who, bender, today):
    booking = services.book(**who, bender=bender, **days(today, 0, 1))
    with pytest.raises(ValidationError, match="is not out on this booking: booked"):
        services.check_in(**who, booking=booking, condition="sound")
    services.check_out(**who, booking=booking, condition="sound")
    with pytest.raises(ValidationError, match="how the bender came back"):
        services.check_in(**who, booking=booking, condition=" ")


def test_the_latest_past_booking_comes_first(organisation, bender, member, today):
    rows = [
        BenderBookingFactory(bender=bender, member=who_has, state=state, **days(today, first, last))
        for first, last, state, who_has in (
            (-9, -8, "back", member),
            (-3, -3, "booked", member),
            (-6, -5, "cancelled", member),
            (-2, -1, "back", None),
        )
    ]
    past = past_bookings_of(organisation=organisation, today=today)
    assert list(past) == [rows[n] for n in (3, 1, 2, 0)]


def refused_sql(sql: str, values: list, name: str) -> None:
    with pytest.raises(IntegrityError, match=name), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)


def test_straight_sql_is_refused_too(bender):
    one = BenderBookingFactory(bender=bender)
    other = BenderBookingFactory(bender=bender, first=date(2027, 5, 6))
    gone = BenderBookingFactory(bender=bender, state="cancelled")
    insert = (
        "INSERT INTO crew_benderbooking (organisation_id, bender_id, member_id, first, last, state, out_condition,"
        " back_condition, made_at) SELECT organisation_id, bender_id, member_id, %s, %s, state, '', '', made_at"
        " FROM crew_benderbooking WHERE id = %s"
    )
    refused_sql(insert, ["2027-05-05", "2027-05-05", one.pk], "booking_no_overlap")
    move = "UPDATE crew_benderbooking SET first = %s WHERE id = %s"
    refused_sql(move, ["2027-05-05", other.pk], "booking_no_overlap")
    refused_sql("UPDATE crew_benderbooking SET state = 'booked' WHERE id = %s", [gone.pk], "booking_no_overlap")
    strange = BenderFactory()
    refused_sql(
        "UPDATE crew_benderbooking SET bender_id = %s WHERE id = %s", [strange.pk, one.pk], "booking_of_one_owner"
    )
    stranger = MemberFactory()
    refused_sql(
        "UPDATE crew_benderbooking SET member_id = %s WHERE id = %s", [stranger.pk, one.pk], "booking_of_one_owner"
    )
    with connection.cursor() as cursor:
        cursor.execute("UPDATE crew_benderbooking SET state = 'out' WHERE id = %s", [one.pk])
    refused_sql("UPDATE crew_benderbooking SET state = 'out' WHERE id = %s", [other.pk], "bender")
