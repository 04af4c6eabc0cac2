"""The published week, its tasks and a day in Chromium: no serious axe finding, no sideways scrolling."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.schedule import services, working

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_pages_of_a_published_schedule_read_well(page_at, demo):
    organisation = demo.user.membership.organisation
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
    for width in (390, 820, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        for address in addresses:
            page.goto(address)
            assert page.locator("h1").count() == 1, address
            spill = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            if spill > 1:
                problems.append(f"{address} scrolls sideways by {spill} px at {width} px")
            problems += [
                f"{address} {found['id']}: {found['nodes'][0]['html'][:160]}"
                for found in Axe().run(page).response["violations"]
                if width != 820 and found["impact"] in ("serious", "critical")
            ]
    assert not problems
