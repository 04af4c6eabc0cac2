"""The published week, its tasks and a day in Chromium: no serious axe finding, no sideways scrolling."""

from __future__ import annotations

import pytest

from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.schedule import services, working
from tests.browser.reading import problems_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_pages_of_a_published_schedule_read_well(page_at, demo, short_search):
    organisation = demo.user.memberships.get().organisation
    page = page_at(1440)
    page.goto("/crew/")
    page.get_by_role("button", name="Work out the schedule").click()
    page.get_by_role("button", name="Publish it for everybody").wait_for(timeout=60_000)
    schedule = Schedule.objects.of(organisation).get()
    assert not [why for _, why in schedule.result["unplaced"]]
    again = services.create_schedule(organisation=organisation, user=demo.user)
    working.work_out_schedule(again.pk)
    page.get_by_role("button", name="Publish it for everybody").click()
    page.wait_for_url("**/crew/")
    first = Task.objects.of(organisation).exclude(starts_at=None).order_by("starts_at").first()
    day = f"{first.starts_at:%Y-%m-%d}"
    person = first.crew.people.first()
    addresses = (
        "/crew/",
        f"/crew/week/{day}/",
        "/crew/schedules/",
        "/crew/schedules/1/",
        "/crew/schedules/2/",
        f"/crew/tasks/{first.pk}/",
        f"/crew/day/?person={person.slug}&day={day}",
        "/crew/day/?who",
        f"/crew/day/calendars/{person.slug}/",
    )
    problems = []
    for address in addresses:
        page.goto(address)
        problems += problems_of(page)
    assert not problems
