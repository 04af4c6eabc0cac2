"""Pages of shared benders: from a request to a bender that is back; what is refused; whose rows; calendars."""

from __future__ import annotations

import re
from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from farmbuild.crew import feeds
from farmbuild.crew.models import BenderBooking, BenderRequest, CalendarFeed, Member
from farmbuild.orgs.clock import today_of
from tests.crew.calendars import address_on
from tests.crew.own import own
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
def bender(organisation):
    return BenderFactory(organisation=organisation, name="West bender", slug="west")


@pytest.fixture
def member(organisation):
    return MemberFactory(organisation=organisation, name="Alder Patch", slug="alder", contact="555 0101")


def test_from_request_to_back_again(signed_in, bender, member, today):
    sent = {"member": member.pk, "days": 3, "earliest": today, "need_by": today + timedelta(days=4)}
    assert signed_in.post(reverse("crew:request-new"), sent).status_code == 302
    page = signed_in.get(reverse("crew:proposal"))
    assert "1 of 1 open request can be met." in text_of(page)
    assert "Nobody else asks for it in these days." in text_of(page)
    (row,) = page.context["proposal"].given
    assert signed_in.post(reverse("crew:proposal"), {"wish": row.key})["Location"] == reverse("crew:shared")
    booking = BenderBooking.objects.get()
    assert (booking.first, booking.last, booking.member) == (today, today + timedelta(days=2), member)
    assert BenderRequest.objects.get().state == "given"
    address = reverse("crew:booking", args=[booking.pk])
    assert "Type the condition of the bender" in text_of(signed_in.post(address, {"condition": ""}))
    signed_in.post(address, {"condition": "sound"})
    assert "1 bender out on" in text_of(signed_in.get(reverse("crew:shared")))
    signed_in.post(address, {"condition": "one bolt gone"})
    assert "one bolt gone" in text_of(signed_in.get(address))
    assert "Back" in text_of(signed_in.get(reverse("crew:bookings"), {"past": 1}))


def test_something_changed_meanwhile_books_nothing(signed_in, organisation, bender, member, today):
    for _ in range(2):
        BenderRequestFactory(member=member, earliest=today, need_by=today + timedelta(days=5))
    given = signed_in.get(reverse("crew:proposal")).context["proposal"].given
    assert len(given) == 2
    BenderBookingFactory(bender=bender, first=given[1].first, last=given[1].first)
    answer = signed_in.post(reverse("crew:proposal"), {"wish": [row.key for row in given]}, follow=True)
    assert "Something changed meanwhile for Alder Patch" in text_of(answer)
    assert BenderBooking.objects.count() == 1
    for wish in ([], ["x"], ["1_2_3"], ["1_2_2027-01-01_2027-99-01"]):
        answer = signed_in.post(reverse("crew:proposal"), {"wish": wish}, follow=True)
        assert answer.status_code == 200
        assert BenderBooking.objects.count() == 1


def test_all_as_proposed_in_one_press(signed_in, organisation, member, today):
    for name in ("North", "South"):
        bender = BenderFactory(organisation=organisation, name=f"{name} bender")
        BenderRequestFactory(member=member, bender=bender, earliest=today, note=f"For the {name}")
    page = signed_in.get(reverse("crew:proposal"))
    html = " ".join(page.content.decode().split())
    assert "Book all 2" in html
    assert "For the South" in html
    first = html[: html.index("Book all 2")]
    sent = re.findall(r'type="hidden" name="wish" value="([^"]+)"', first)
    assert sorted(sent) == sorted(row.key for row in page.context["proposal"].given)
    signed_in.post(reverse("crew:proposal"), {"wish": sent})
    assert BenderBooking.objects.count() == 2


def test_declined_with_a_reason_that_the_member_reads(signed_in, bender, member, today):
    row = BenderRequestFactory(member=member, bender=bender, earliest=today)
    address = reverse("crew:request-decline", args=[row.pk])
    assert address in signed_in.get(reverse("crew:proposal")).content.decode()
    assert "Alder Patch asked for 2 days in a row" in text_of(signed_in.get(address))
    assert "Type why" in text_of(signed_in.post(address, {"reason": " "}))
    assert signed_in.post(address, {"reason": "It is being mended."})["Location"] == reverse("crew:proposal")
    row.refresh_from_db()
    assert (row.state, row.declined_because) == ("declined", "It is being mended.")
    assert "No request is open." in text_of(signed_in.get(reverse("crew:proposal")))
    visitor = Client()
    visitor.force_login(MemberSignInFactory(member=member).user)
    page = text_of(visitor.get(own("request", row.pk)))
    assert "Declined: 2 days in a row" in page
    assert "It is being mended." in page
    answer = signed_in.post(address, {"reason": "Again"}, follow=True)
    assert "is declined: there is nothing to decline" in text_of(answer)
    answer = signed_in.post(reverse("crew:request-withdraw", args=[row.pk]), follow=True)
    assert "It is declined already." in text_of(answer)
    wish = f"{row.pk}_{bender.pk}_{today}_{today + timedelta(days=1)}"
    answer = signed_in.post(reverse("crew:proposal"), {"wish": wish}, follow=True)
    assert "asks for it no more: declined" in text_of(answer)
    assert signed_in.get(reverse("crew:request-decline", args=[BenderRequestFactory().pk])).status_code == 404


def test_the_database_declines_nothing_without_a_reason(member):
    with pytest.raises(IntegrityError), transaction.atomic():
        BenderRequestFactory(member=member, state="declined")


def test_a_tube_finds_the_benders_that_bend_it(signed_in, organisation, bender, member, today):
    rail, conduit = (MaterialFactory(organisation=organisation) for _ in range(2))
    bender.tubes.set([rail])
    BenderRequestFactory(member=member, tube=rail, earliest=today)
    BenderRequestFactory(member=member, tube=conduit, earliest=today)
    proposal = signed_in.get(reverse("crew:proposal")).context["proposal"]
    assert [row.request.tube for row in proposal.given] == [rail]
    assert [row.reason for row in proposal.not_given] == ["No bender that is lent fits what is asked for."]


def test_late_stands_on_top_with_whom_it_delays(signed_in, organisation, bender, member, today):
    BenderBookingFactory(
        bender=bender, member=member, state="out", first=today - timedelta(days=5), last=today - timedelta(days=1)
    )
    waits = MemberFactory(organisation=organisation, name="Brook Acre")
    BenderBookingFactory(bender=bender, member=waits, first=today, last=today)
    page = text_of(signed_in.get(reverse("crew:shared")))
    assert "1 bender is late back" in page
    assert "Alder Patch has West bender still" in page
    assert "It delays Brook Acre" in page
    assert "Ring: 555 0101" in page


def test_what_is_typed_wrong_is_said_and_kept(signed_in, bender, member, today):
    sent = {"bender": bender.pk, "member": member.pk, "first": "2020-01-01", "last": "2020-01-02"}
    page = signed_in.post(reverse("crew:booking-new"), sent)
    assert "That day has passed." in text_of(page)
    assert page.context["form"]["member"].value() == str(member.pk)
    sent = {"member": member.pk, "days": "x", "earliest": "soon", "need_by": ""}
    words = text_of(signed_in.post(reverse("crew:request-new"), sent))
    assert "Type a day that the calendar has" in words
    assert "Type a whole number from 1 to 366." in words
    assert not BenderRequest.objects.exists()


def test_members_are_added_changed_archived_and_back(signed_in, organisation):
    signed_in.post(reverse("crew:member-new"), {"name": "Alder Patch", "contact": "555 0101", "share": 2})
    row = Member.objects.get()
    again = signed_in.post(reverse("crew:member-new"), {"name": "alder patch", "share": 1})
    assert "called alder patch already" in text_of(again)
    signed_in.post(reverse("crew:member", args=[row.slug]), {"name": "Alder", "contact": "", "share": 0})
    row.refresh_from_db()
    assert (row.name, row.share) == ("Alder Patch", 2)
    signed_in.post(reverse("crew:member", args=[row.slug]), {"name": "Alder", "contact": "", "share": 3})
    signed_in.post(reverse("crew:member-archive", args=[row.slug]))
    row.refresh_from_db()
    assert (row.name, row.share, row.slug, bool(row.archived_at)) == ("Alder", 3, "alder-patch", True)
    signed_in.post(reverse("crew:member-archive", args=[row.slug]))
    assert Member.objects.get().archived_at is None


def test_nothing_of_another_organisation_is_found(signed_in, today):
    booking, request = BenderBookingFactory(), BenderRequestFactory()
    for name, args in (
        ("booking", [booking.pk]),
        ("request", [request.pk]),
        ("member", [booking.member.slug]),
        ("bender-feed", [booking.bender.slug]),
    ):
        assert signed_in.get(reverse(f"crew:{name}", args=args)).status_code == 404, name
    for name, args in (
        ("booking-cancel", [booking.pk]),
        ("request-withdraw", [request.pk]),
        ("member-archive", [booking.member.slug]),
        ("bender-feed-make", [booking.bender.slug]),
        ("bender-feed-revoke", [booking.bender.slug]),
    ):
        assert signed_in.post(reverse(f"crew:{name}", args=args)).status_code == 404, name
    key = f"{request.pk}_{booking.bender_id}_{request.earliest}_{request.earliest + timedelta(days=1)}"
    signed_in.post(reverse("crew:proposal"), {"wish": key})
    assert BenderBooking.objects.get() == booking
    for name in ("shared", "bookings", "requests", "proposal", "members"):
        words = text_of(signed_in.get(reverse(f"crew:{name}")))
        assert booking.member.name not in words
        assert booking.bender.name not in words
    for name in ("booking-new", "request-new"):
        assert booking.member.name not in text_of(signed_in.get(reverse(f"crew:{name}")))


def test_the_calendar_can_be_read_back_by_whoever_has_its_address(client, signed_in, organisation, bender, today):
    long = MemberFactory(organisation=organisation, name="Zwölf Äcker; an invented farm, of a very long name " * 2)
    kept = BenderBookingFactory(bender=bender, member=long, first=today, last=today + timedelta(days=2))
    BenderBookingFactory(bender=bender, state="cancelled", first=today)
    BenderBookingFactory(bender=BenderFactory(organisation=organisation, name="East bender"), first=today)
    signed_in.post(reverse("crew:bender-feed-make", args=["west"]))
    address = address_on(signed_in.get(reverse("crew:bender-feed", args=["west"])))
    client.logout()
    answer = client.get(address)
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    lines = answer.content.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert (event["dtstart"].dt, event["dtend"].dt) == (today, today + timedelta(days=3))
    assert event["dtstart"].params["VALUE"] == "DATE"
    assert event["uid"] == f"bender-booking-{kept.pk}@farmbuild"
    assert event["summary"] == f"West bender: {long.name} (booked)"
    assert event["dtstamp"].dt == kept.made_at.replace(microsecond=0)
    assert "sessionid" not in answer.cookies
    assert client.get(address).content == answer.content
    assert client.get("/crew/benders/").status_code == 302
    assert client.post(address).status_code == 405
    assert client.get("/calendar/guess.ics").status_code == 404


def test_a_revoked_address_stops_and_a_new_one_is_another(client, organisation, user, bender):
    given = {"organisation": organisation, "user": user}
    feed = feeds.make_feed(**given, bender=bender)
    assert len(feed.secret) == 43
    assert client.get(feed.get_absolute_url()).status_code == 200
    again = feeds.make_feed(**given, bender=bender)
    assert again.secret != feed.secret
    assert client.get(feed.get_absolute_url()).status_code == 404
    assert client.get(again.get_absolute_url()).status_code == 200
    client.force_login(user)
    client.post(reverse("crew:bender-feed-revoke", args=["west"]))
    assert client.get(again.get_absolute_url()).status_code == 404
    with pytest.raises(ValueError, match="of the organisation"):
        feeds.make_feed(**given, bender=BenderFactory())


def test_an_address_is_shown_once_and_kept_nowhere(client, organisation, user, bender):
    """Neither in the row nor in the session; and another calendar's page does not show it."""
    other = BenderFactory(organisation=organisation, name="East bender", slug="east")
    feeds.make_feed(organisation=organisation, user=user, bender=other)
    client.force_login(user)
    client.post(reverse("crew:bender-feed-make", args=["west"]))
    assert address_on(client.get(reverse("crew:bender-feed", args=["east"]))) == ""
    client.post(reverse("crew:bender-feed-make", args=["west"]))
    page = reverse("crew:bender-feed", args=["west"])
    secret = address_on(client.get(page)).removeprefix("/calendar/").removesuffix(".ics")
    assert len(secret) == 43
    again = text_of(client.get(page))
    assert "Whoever lost it makes a new one" in again and secret not in again
    kept = [*CalendarFeed.objects.values_list("digest", flat=True)]
    kept += [*Session.objects.values_list("session_data", flat=True)]
    assert kept and not any(secret in text for text in kept)


def test_calendars_that_were_read_before_go_on(organisation, bender):
    """By the migration: their secrets stood in the rows."""
    secret = "x" * 43
    feed = CalendarFeed.objects.create(organisation=organisation, bender=bender, digest=secret)
    migration = import_module("farmbuild.crew.migrations.0021_feeds_by_digest")
    migration.hash_secrets(apps, connection.schema_editor())
    assert Client().get(f"/calendar/{secret}.ics").status_code == 200
    assert Client().get(f"/calendar/{feed.digest[:43]}x.ics").status_code == 404
    feed.refresh_from_db()
    assert Client().get(f"/calendar/{feed.digest}.ics").status_code == 404
