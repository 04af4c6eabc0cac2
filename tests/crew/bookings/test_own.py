"""The pages of a member who signs in: what is its own, when benders are free, and nobody else's name."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from icalendar import Calendar

from farmbuild.crew.bookings import moving, services
from farmbuild.crew.bookings.own.selectors import stretches_of
from farmbuild.crew.bookings.own.services import MAX_OPEN
from farmbuild.crew.models import BenderBooking, BenderRequest, CalendarFeed
from farmbuild.orgs.clock import today_of
from tests.crew.calendars import address_on
from tests.crew.own import first_page, own
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    BenderRequestFactory,
    MaterialFactory,
    MemberFactory,
    MemberSignInFactory,
)

pytestmark = pytest.mark.django_db


def text_of(response) -> str:
    return " ".join(re.sub(r"<[^>]*>", "", response.content.decode()).split())


@pytest.fixture
def today(organisation):
    return today_of(organisation=organisation)


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def bender(organisation):
    return BenderFactory(organisation=organisation, name="West bender", kept_at="Barn, north wall")


@pytest.fixture
def member(organisation):
    return MemberFactory(organisation=organisation, name="Alder Patch")


@pytest.fixture
def other(organisation):
    return MemberFactory(organisation=organisation, name="Brook Acre")


@pytest.fixture
def browser(member):
    client = Client()
    client.force_login(MemberSignInFactory(member=member, user__first_name="Ida").user)
    return client


@pytest.fixture
def at(today):
    return lambda first, last: {"first": today + timedelta(days=first), "last": today + timedelta(days=last)}


def test_from_asking_to_booked_and_moved(browser, signed_in, who, bender, member, today):
    sent = {"bender": bender.pk, "days": 2, "earliest": today, "need_by": today + timedelta(days=5), "note": "Herbs"}
    assert browser.post(own("ask"), sent)["Location"] == own()
    asked = BenderRequest.objects.get()
    assert (asked.member, asked.asked_by.first_name) == (member, "Ida")
    assert "by Ida" in text_of(signed_in.get(reverse("crew:request", args=[asked.pk])))
    page = text_of(browser.get(own()))
    assert "0 out with you, nothing booked to come, 1 request open." in page
    assert "West bender" in page
    (row,) = signed_in.get(reverse("crew:proposal")).context["proposal"].given
    signed_in.post(reverse("crew:proposal"), {"wish": row.key})
    booking = BenderBooking.objects.get()
    assert "West bender booked from" in text_of(browser.get(own()))
    moving.move(**who, booking=booking, bender=bender, first=today + timedelta(days=1), last=today + timedelta(days=2))
    page = text_of(browser.get(own("booking", booking.pk)))
    assert "Barn, north wall" in page
    assert "Moved" in page
    assert who["user"].username not in page
    assert str(booking.bender) in text_of(browser.get(own("request", asked.pk)))


def test_withdrawn_by_the_member_itself(browser, member, today):
    row = BenderRequestFactory(member=member, earliest=today)
    assert browser.get(own("withdraw", row.pk)).status_code == 405
    browser.post(own("withdraw", row.pk))
    row.refresh_from_db()
    assert row.state == "withdrawn"
    answer = browser.post(own("withdraw", row.pk), follow=True)
    assert "It is withdrawn already." in text_of(answer)


def test_what_is_booked_is_not_withdrawn(browser, who, bender, member, today, at):
    row = BenderRequestFactory(member=member, earliest=today)
    services.book(**who, bender=bender, member=member, request=row, **at(0, 1))
    answer = browser.post(own("withdraw", row.pk), follow=True)
    assert "It is booked." in text_of(answer)
    row.refresh_from_db()
    assert row.state == "given"


def test_another_members_rows_are_not_there(browser, other, today, organisation):
    booking = BenderBookingFactory(bender__organisation=organisation, member=other, first=today)
    ours = BenderBookingFactory(bender__organisation=organisation, member=None, first=today)
    request = BenderRequestFactory(member=other, earliest=today)
    assert browser.get(own("booking", booking.pk)).status_code == 404
    assert browser.get(own("booking", ours.pk)).status_code == 404
    assert browser.get(own("request", request.pk)).status_code == 404
    assert browser.post(own("withdraw", request.pk)).status_code == 404
    request.refresh_from_db()
    assert request.state == "asked"


def test_nobody_asks_in_another_name(browser, bender, member, other, today):
    sent = {"member": other.pk, "bender": bender.pk, "days": 1, "earliest": today, "need_by": today, "state": "given"}
    browser.post(own("ask"), sent)
    row = BenderRequest.objects.get()
    assert (row.member, row.state) == (member, "asked")
    strange = BenderFactory()
    page = browser.post(own("ask"), sent | {"bender": strange.pk})
    assert list(page.context["form"].errors) == ["bender"]


def test_choices_are_benders_in_use_and_the_tubes_that_they_bend(browser, organisation, bender):
    rail, conduit, _ = (MaterialFactory(organisation=organisation) for _ in range(3))
    MaterialFactory(organisation=organisation, kind="film")
    bender.tubes.set([rail])
    gone = BenderFactory(organisation=organisation, archived_at="2026-01-01T00:00Z")
    gone.tubes.set([conduit])
    BenderFactory()
    form = browser.get(own("ask")).context["form"]
    assert list(form.fields["bender"].queryset) == [bender]
    assert list(form.fields["tube"].queryset) == [rail]
    assert "member" not in form.fields


def test_one_member_does_not_fill_the_list(browser, bender, member, other, today):
    BenderRequestFactory.create_batch(MAX_OPEN, member=member, earliest=today)
    sent = {"bender": bender.pk, "days": 1, "earliest": today, "need_by": today}
    page = browser.post(own("ask"), sent)
    assert "10 requests are open. Withdraw one" in text_of(page)
    assert BenderRequest.objects.count() == MAX_OPEN
    browser.post(own("withdraw", BenderRequest.objects.first().pk))
    assert browser.post(own("ask"), sent).status_code == 302


def test_what_is_typed_wrong_is_said_and_kept(browser, bender, today):
    page = browser.post(own("ask"), {"days": "9", "earliest": today, "need_by": today, "note": "Herbs"})
    assert "there is 1 day. Type 1." in text_of(page)
    assert page.context["form"]["note"].value() == "Herbs"


def test_late_says_that_someone_waits_and_not_who(browser, bender, member, other, today, at):
    late = BenderBookingFactory(bender=bender, member=member, state="out", **at(-5, -2))
    BenderBookingFactory(bender=bender, member=other, **at(1, 3))
    for address in (own(), own("booking", late.pk)):
        page = text_of(browser.get(address))
        assert "You have West bender still, due back" in page
        assert "2 days ago. Someone waits for it from" in page
        assert "Brook Acre" not in page


def test_days_are_free_or_taken_without_a_name(browser, organisation, bender, member, other, today, at):
    for first, last, whose in ((1, 2, other), (3, 4, None), (5, 6, member), (9, 9, other)):
        BenderBookingFactory(bender=bender, member=whose, **at(first, last))
    BenderBookingFactory(bender=bender, member=other, state="cancelled", **at(12, 13))
    BenderFactory(organisation=organisation, name="East bender")
    BenderFactory(name="Of another organisation")
    answer = browser.get(own("days"))
    page = text_of(answer)
    assert "2 of 2 benders are free today" in page
    assert "East bender: free on all these days." in page
    for name in ("Brook Acre", "Our own work", "Of another organisation"):
        assert name not in answer.content.decode()
    (stretches,) = stretches_of(
        member=member, benders=[bender], start=today, end=today + timedelta(days=27), today=today
    ).values()
    assert [((row.first - today).days, (row.last - today).days, bool(row.booking)) for row in stretches] == [
        (1, 4, False),
        (5, 6, True),
        (9, 9, False),
    ]


def test_a_bender_that_is_out_late_is_taken_today(browser, bender, other, at):
    BenderBookingFactory(bender=bender, member=other, state="out", **at(-9, -3))
    assert "No bender is free today" in text_of(browser.get(own("days")))


@pytest.mark.parametrize("given", ["2020-01-01", "soon", "9999-12-31", "2026-13-01", ""])
def test_days_of_any_address_answer(browser, bender, given):
    assert browser.get(own("days"), {"from": given, "page": given}).status_code == 200


def test_the_members_own_calendar(browser, who, bender, member, other, at):
    mine = BenderBookingFactory(bender=bender, member=member, **at(1, 2))
    BenderBookingFactory(bender=bender, member=other, **at(5, 6))
    browser.post(own("calendar-make"))
    feed = CalendarFeed.objects.get()
    assert feed.member == member
    address = address_on(browser.get(own("calendar")))
    content = Client().get(address).content
    (event,) = Calendar.from_ical(content).walk("VEVENT")
    assert (event["dtstart"].dt, event["summary"]) == (mine.first, "West bender: lent to us (booked)")
    browser.post(own("calendar-revoke"))
    assert Client().get(address).status_code == 404


def test_lists_of_a_member_cost_the_same_at_any_length(browser, organisation, bender, member):
    def fill(start, count):
        benders = BenderFactory.create_batch(count, organisation=organisation)
        for n, one in enumerate(benders):
            day = date(2087, 1, 5) + timedelta(days=start + n)
            BenderBookingFactory(bender=one, member=member, first=day)
            BenderBookingFactory(bender=one, member=member, first=date(2020, 1, 5), state="back")
            BenderRequestFactory(member=member)

    def queries():
        found = []
        pages = ((own(), {}), (own(), {"past": 1}), (own("days"), {"from": "2087-01-05"}), (own("ask"), {}))
        for address, asked in (*pages, (first_page(), {})):
            with CaptureQueriesContext(connection) as made:
                assert browser.get(address, asked).status_code == 200
            found.append(len(made))
        return found

    fill(0, 3)
    few = queries()
    fill(3, 40)
    assert queries() == few
