"""A booking is moved in one step: what is refused and in whose name, what stays with it, and its page."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from farmbuild.crew import feeds
from farmbuild.crew.bookings import member_requests, moving, services
from farmbuild.crew.bookings.history import place_of
from farmbuild.crew.bookings.selectors import late_of
from farmbuild.crew.models import BookingMove
from farmbuild.orgs.clock import today_of
from tests.factories import BenderBookingFactory, BenderFactory, BenderRequestFactory, MaterialFactory, MemberFactory

pytestmark = pytest.mark.django_db


def text_of(response) -> str:
    return " ".join(re.sub(r"<[^>]*>", "", response.content.decode()).split())


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def today(organisation):
    return today_of(organisation=organisation)


@pytest.fixture
def bender(organisation):
    return BenderFactory(organisation=organisation, name="West bender", slug="west")


@pytest.fixture
def other(organisation):
    return BenderFactory(organisation=organisation, name="East bender", slug="east")


@pytest.fixture
def member(organisation):
    return MemberFactory(organisation=organisation, name="Alder Patch", slug="alder")


@pytest.fixture
def at(today):
    """``at(2, 4)``: first and last day, from today on."""
    return lambda first, last: {"first": today + timedelta(days=first), "last": today + timedelta(days=last)}


def refused(field, words, **given):
    with pytest.raises(ValidationError, match=words) as error:
        moving.move(**given)
    assert list(getattr(error.value, "error_dict", {"": 0})) == [field]


def test_to_other_days_and_another_bender_at_once(who, user, bender, other, member, today, at):
    asked = BenderRequestFactory(member=member, earliest=today, need_by=today + timedelta(days=9), days=3)
    row = services.book(**who, bender=bender, member=member, request=asked, **at(1, 3))
    moved = moving.move(**who, booking=row, bender=other, **at(2, 4))
    assert (moved.pk, moved.bender, moved.request, moved.state) == (row.pk, other, asked, "booked")
    kept = BookingMove.objects.get()
    assert (kept.from_bender, kept.to_bender, kept.moved_by) == (bender, other, user)
    assert (kept.from_first, kept.from_last) == (row.first, row.last)
    assert (kept.to_first, kept.to_last) == (moved.first, moved.last)
    asked.refresh_from_db()
    assert asked.state == "given"
    assert not moving.differs_from_request(moved)
    services.book(**who, bender=bender, **at(1, 3))
    assert moving.differs_from_request(moving.move(**who, booking=row, bender=other, **at(8, 10)))
    services.cancel(**who, booking=row)
    asked.refresh_from_db()
    assert asked.state == "asked"


def test_its_own_old_days_are_not_in_its_way(who, bender, member, at):
    row = services.book(**who, bender=bender, member=member, **at(2, 6))
    for first, last in ((3, 7), (4, 5), (0, 9)):
        row = moving.move(**who, booking=row, bender=bender, **at(first, last))
    assert BookingMove.objects.count() == 3


def test_days_that_someone_has_are_refused_with_the_name(who, organisation, bender, other, member, at):
    row = services.book(**who, bender=bender, member=member, **at(1, 3))
    brook = MemberFactory(organisation=organisation, name="Brook Acre")
    services.book(**who, bender=bender, member=brook, **at(4, 5))
    services.book(**who, bender=other, **at(2, 2))
    refused("first", r"Brook Acre has West bender .* Choose other days", **who, booking=row, bender=bender, **at(2, 4))
    refused("first", "Our own work has East bender", **who, booking=row, bender=other, **at(1, 3))
    row.refresh_from_db()
    assert (row.bender, row.first, BookingMove.objects.count()) == (bender, at(1, 3)["first"], 0)


def test_not_onto_a_bender_that_someone_has_still(who, bender, other, member, at):
    row = services.book(**who, bender=bender, member=member, **at(1, 3))
    BenderBookingFactory(bender=other, state="out", **at(-5, -2))
    refused("first", "has East bender still, due back", **who, booking=row, bender=other, **at(0, 3))
    moving.move(**who, booking=row, bender=other, **at(1, 3))
    # Nor does one at that bender begin sooner.
    refused("first", "has East bender still, due back", **who, booking=row, bender=other, **at(0, 3))


def test_what_cannot_be_is_said_at_its_field(who, bender, other, member, at):
    row = services.book(**who, bender=bender, member=member, **at(1, 3))
    given = {**who, "booking": row, "bender": bender}
    refused("first", "That day has passed", **given, **at(-1, 3))
    refused("last", "That is before", **given, **at(3, 2))
    refused("last", "too far off", **given, **at(1, 40000))
    refused("", "Nothing is changed", **given, **at(1, 3))
    refused("", "Someone moved it just now", **given, **at(1, 4), seen="1_2026-01-01_2026-01-02")
    refused("bender", "Choose one from the list", **given | {"bender": BenderFactory()}, **at(1, 4))
    other.archived_at = row.made_at
    other.save()
    refused("bender", "is archived", **given | {"bender": other}, **at(1, 3))
    moving.move(**given, **at(1, 4), seen=place_of(row).key)


@pytest.mark.parametrize("state", ["back", "cancelled"])
def test_what_is_over_does_not_move(who, bender, state, at):
    row = BenderBookingFactory(bender=bender, state=state, **at(0, 3))
    refused("", f"is {state}: there is nothing to move", **who, booking=row, bender=bender, **at(1, 4))


def test_one_never_fetched_goes_to_days_to_come(who, bender, at):
    row = BenderBookingFactory(bender=bender, **at(-6, -3))
    assert moving.move(**who, booking=row, bender=bender, **at(1, 4)).state == "booked"


def test_one_that_began_keeps_its_first_day_or_gets_a_coming_one(who, bender, at):
    row = BenderBookingFactory(bender=bender, **at(-2, 3))
    row = moving.move(**who, booking=row, bender=bender, **at(-2, 1))
    refused("last", "has passed", **who, booking=row, bender=bender, **at(-2, -1))
    refused("first", "has passed", **who, booking=row, bender=bender, **at(-1, 1))
    moving.move(**who, booking=row, bender=bender, **at(0, 1))


def test_only_benders_that_bend_the_tube(who, organisation, bender, other, member, today, at):
    rail, conduit = (MaterialFactory(organisation=organisation) for _ in range(2))
    any_tube = BenderFactory(organisation=organisation)
    BenderFactory(organisation=organisation, archived_at=timezone.now())
    bender.tubes.set([rail])
    other.tubes.set([conduit])
    row = services.book(**who, bender=bender, member=member, **at(1, 3))
    assert set(moving.benders_for(organisation=organisation, booking=row)) == {bender, any_tube}
    refused("bender", "does not bend this tube", **who, booking=row, bender=other, **at(1, 3))
    asked = BenderRequestFactory(member=member, tube=conduit, earliest=today)
    row = services.book(**who, bender=any_tube, member=member, request=asked, **at(5, 6))
    assert set(moving.benders_for(organisation=organisation, booking=row)) == {other, any_tube}
    moving.move(**who, booking=row, bender=other, **at(5, 6))


def test_one_that_is_out_changes_its_last_day_alone(who, organisation, bender, other, member, today, at):
    row = BenderBookingFactory(bender=bender, member=member, state="out", **at(-2, 1))
    for first, last in ((5, 5), (7, 8)):
        BenderBookingFactory(bender=bender, member=None, **at(first, last))
    given = {**who, "booking": row, "bender": bender}
    refused("first", "only its last day", **given, **at(0, 1))
    refused("bender", "only its last day", **given | {"bender": other}, **at(-2, 1))
    refused("last", "has passed", **given, **at(-2, -1))
    refused(
        "last",
        r"That would delay Our own work \(.*\) and Our own work \(.*\). Move those bookings first, or type .* earlier",
        **given,
        **at(-2, 7),
    )
    room = moving.free_days_of(organisation=organisation, booking=row)
    assert room.last == today + timedelta(days=4)
    longer = moving.move(**given, **at(-2, 4))
    assert (longer.state, longer.last) == ("out", room.last)
    refused("last", r"delay Our own work \([^)]*\). Move that booking first\.", **given, **at(-2, 5))
    assert moving.move(**given, **at(-2, 0)).last == today


def test_a_late_one_that_is_kept_longer_is_late_no_more(who, organisation, bender, member, today, at):
    row = BenderBookingFactory(bender=bender, member=member, state="out", **at(-5, -2))
    waits = BenderBookingFactory(bender=bender, **at(-1, 1))
    refused("last", "That would delay", **who, booking=row, bender=bender, **at(-5, 2))
    moving.move(**who, booking=waits, bender=bender, **at(4, 6))
    moving.move(**who, booking=row, bender=bender, **at(-5, 2))
    assert late_of(organisation=organisation, today=today) == ()


def test_another_organisation_moves_nothing(who, bender, at):
    strange = BenderBookingFactory(**at(1, 3))
    with pytest.raises(type(strange).DoesNotExist):
        moving.move(**who, booking=strange, bender=bender, **at(2, 4))


def test_the_database_keeps_no_move_that_changes_nothing(organisation, bender, today):
    row = BenderBookingFactory(bender=bender, first=today)
    place = {"bender": bender, "first": row.first, "last": row.last}
    stays = {f"{side}_{name}": value for side in ("from", "to") for name, value in place.items()}
    for wrong in ({}, {"to_first": row.last + timedelta(days=1)}):
        with pytest.raises(IntegrityError), transaction.atomic():
            BookingMove.objects.create(organisation=organisation, booking=row, **stays | wrong)


def test_a_moved_booking_has_a_new_stamp_in_the_calendar(client, who, bender, today, at):
    row = services.book(**who, bender=bender, **at(1, 3))
    feed = feeds.make_feed(**who, bender=bender)
    moving.move(**who, booking=row, bender=bender, **at(2, 4))
    (event,) = Calendar.from_ical(client.get(feed.get_absolute_url()).content).walk("VEVENT")
    assert event["dtstart"].dt == today + timedelta(days=2)
    assert event["dtstamp"].dt == row.moves.get().moved_at.replace(microsecond=0)


# Pages


def test_the_page_moves_and_shows_what_was(signed_in, user, who, bender, other, member, today, at):
    user.first_name = "Ida"
    user.save()
    asked = member_requests.create_request(
        **who, data={"member": member, "days": 3, "earliest": today, "need_by": today + timedelta(days=5)}
    )
    row = services.book(**who, bender=bender, member=member, request=asked, **at(1, 3))
    page, address = reverse("crew:booking", args=[row.pk]), reverse("crew:booking-move", args=[row.pk])
    assert address in signed_in.get(page).content.decode()
    shown = signed_in.get(address)
    assert "East bender, for houses" in text_of(shown)
    assert "Alder Patch asked for 3 days in a row" in text_of(shown)
    sent = {"bender": other.pk, "seen": shown.context["form"]["seen"].value()} | at(4, 6)
    assert signed_in.post(address, sent)["Location"] == page
    words = text_of(signed_in.get(page))
    assert re.search(r"Ida: from West bender, .* to East bender, ", words)
    assert "These are other days or another bender." in words


def test_two_at_one_booking(signed_in, who, bender, at):
    row = services.book(**who, bender=bender, **at(1, 3))
    address = reverse("crew:booking-move", args=[row.pk])
    sent = {"bender": bender.pk, "seen": signed_in.get(address).context["form"]["seen"].value()} | at(4, 6)
    moving.move(**who, booking=row, bender=bender, **at(8, 9))
    page = signed_in.post(address, sent)
    assert "Someone moved it just now" in text_of(page)
    assert page.context["form"]["last"].value() == str(sent["last"])
    sent["seen"] = page.context["form"]["seen"].value()
    assert signed_in.post(address, sent).status_code == 302
    row.refresh_from_db()
    assert row.last == sent["last"]


def test_out_shows_how_long_and_whom_it_would_delay(signed_in, organisation, bender, member, today, at):
    row = BenderBookingFactory(bender=bender, member=member, state="out", **at(-2, 1))
    brook = MemberFactory(organisation=organisation, name="Brook Acre")
    BenderBookingFactory(bender=bender, member=brook, **at(4, 6))
    address = reverse("crew:booking-move", args=[row.pk])
    page = signed_in.get(address)
    assert "then Brook Acre has it" in text_of(page)
    assert list(page.context["form"].fields) == ["last", "seen"]
    page = signed_in.post(address, {"last": today + timedelta(days=4), "bender": 0, "first": "2020-01-01"})
    assert "That would delay Brook Acre" in text_of(page)
    assert signed_in.post(address, {"last": today + timedelta(days=3)}).status_code == 302
    assert "It cannot be kept longer: Brook Acre has it from the next day" in text_of(
        signed_in.get(reverse("crew:booking", args=[row.pk]))
    )


def test_the_page_of_one_that_is_back_says_so(signed_in, bender, today):
    row = BenderBookingFactory(bender=bender, state="back", first=today)
    page = signed_in.get(reverse("crew:booking-move", args=[row.pk]), follow=True)
    assert "is back: there is nothing to move" in text_of(page)
    assert signed_in.get(reverse("crew:booking-move", args=[BenderBookingFactory().pk])).status_code == 404


def test_fetched_before_its_first_day_on_the_page(signed_in, organisation, bender, member, today, at):
    row = BenderBookingFactory(bender=bender, member=member, **at(3, 5))
    address = reverse("crew:booking", args=[row.pk])
    assert "It leaves before its first day" in text_of(signed_in.get(address))
    between = BenderBookingFactory(bender=bender, member=None, **at(1, 1))
    page = signed_in.post(address, {"condition": "sound"})
    assert "It leaves before its first day" not in text_of(page)
    row.refresh_from_db()
    assert row.state == "booked"
    between.delete()
    assert signed_in.post(address, {"condition": "sound"}).status_code == 302
    row.refresh_from_db()
    assert (row.state, row.first) == ("out", today)
