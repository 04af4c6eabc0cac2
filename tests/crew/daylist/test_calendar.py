"""The calendar of a person, read back by a library that knows RFC 5545."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone
from icalendar import Calendar

from farmbuild.crew.feeds import open_feed
from tests.crew.calendars import address_on
from tests.crew.daylist.test_ticks import a_day, press
from tests.factories import MembershipFactory, PersonFactory

pytestmark = pytest.mark.django_db


def test_a_feed_is_made_read_and_revoked(signed_in, client, organisation):
    organisation.time_zone = "America/New_York"
    organisation.save()
    starts = (timezone.now() + timedelta(days=3)).replace(microsecond=0)
    person, task = a_day(organisation, starts=starts)
    a_day(MembershipFactory().organisation)
    page = f"/crew/day/calendars/{person.slug}/"
    assert "has no address yet" in signed_in.get(page).content.decode()
    signed_in.post(page + "make/")
    address = address_on(signed_in.get(page))
    assert address and address_on(signed_in.get(page)) == ""
    client.logout()
    answer = client.get(address)
    assert answer["Content-Type"].startswith("text/calendar")
    assert starts.astimezone(UTC).strftime("DTSTART:%Y%m%dT%H%M%SZ").encode() in answer.content
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert (event.decoded("dtstart"), event.decoded("dtend")) == (starts, starts + timedelta(hours=1))
    assert isinstance(event.decoded("dtstart"), datetime) and event["uid"] == f"task-{task.pk}@farmbuild"
    assert str(event["summary"]) == f"Ground posts, {task.house}" and str(event["location"]) == task.house.site.name
    press(person, task, "done")
    assert b"(done)" in client.get(address).content
    person.crew = None
    person.save()
    assert not Calendar.from_ical(client.get(address).content).walk("VEVENT")
    client.force_login(organisation.memberships.get().user)
    client.post(page + "cancel/")
    assert client.get(address).status_code == 404


def test_feeds_of_other_organisations_are_not_there(client, organisation):
    person = PersonFactory(crew__organisation=organisation)
    client.force_login(MembershipFactory().user)
    page = f"/crew/day/calendars/{person.slug}/"
    assert [client.get(page).status_code, client.post(page + "make/").status_code] == [404, 404]
    assert client.post(page + "cancel/").status_code == 404
    assert open_feed(organisation=organisation, person=person) is None
