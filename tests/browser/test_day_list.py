"""The list of a day on a phone that loses its reception: read, pressed, loaded again, and sent once each."""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Error

from farmbuild.crew.models import Actual, Kind, Task
from tests.factories import CrewFactory, PersonFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def day(demo):
    """A person of the demo farm and two tasks of today."""
    organisation = demo.user.membership.organisation
    person = PersonFactory(crew=CrewFactory(organisation=organisation), name="Odd Jobson", slug="odd-jobson")
    house = organisation_houses(organisation)[0]
    Task.objects.filter(house=house).delete()
    now = timezone.now()
    for kind in (Kind.POSTS, Kind.ANCHORS):
        Task.objects.create(
            organisation=organisation,
            house=house,
            kind=kind,
            count=40,
            people=1,
            minutes=60,
            crew=person.crew,
            starts_at=now,
            ends_at=now + timedelta(minutes=5),
        )
    return person


def organisation_houses(organisation):
    from farmbuild.sites.models import House

    return list(House.objects.of(organisation).filter(archived_at=None).order_by("pk"))


def until(page, said, tries=100):
    """Ask the page again and again; the policy of the pages forbids Playwright's own way of waiting."""
    for _ in range(tries):
        # A page that is being loaded again cannot answer.
        with suppress(Error):
            if page.evaluate(said):
                return
        page.wait_for_timeout(100)
    raise AssertionError(f"never true: {said}")


def wait_for(page, count):
    until(
        page,
        "Object.entries(localStorage).filter(([key]) => key.startsWith('day-presses'))"
        f".every(([, text]) => JSON.parse(text).length === {count})",
    )


def test_presses_without_reception_are_sent_once_each(page_at, day):
    page = page_at(390, service_workers="allow")
    faults = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    address = f"/crew/day/?person={day.slug}"
    page.goto(address)
    page.wait_for_selector("[data-day-list][data-kept]")
    page.reload()
    assert page.evaluate("!!navigator.serviceWorker.controller")

    page.context.set_offline(True)
    page.locator(".day-task").nth(0).get_by_role("button", name="Start").click()
    wait_for(page, 1)
    second = page.locator(".day-task").nth(1)
    second.get_by_label("Done now").fill("12")
    second.get_by_role("button", name="Stop").click()
    wait_for(page, 2)
    assert "2 presses kept on this phone" in page.locator("[data-day-status]").inner_text()
    assert not Actual.objects.exists()

    # The page is read from what is kept, and the presses are still there.
    page.reload()
    page.wait_for_selector(".day-task")
    assert "kept on this phone until it is sent" in page.locator("[data-waiting]").nth(1).inner_text()
    wait_for(page, 2)
    # No other page is kept.
    with pytest.raises(Error, match="ERR_INTERNET_DISCONNECTED"):
        page.context.new_page().goto("/crew/people/")

    page.context.set_offline(False)
    wait_for(page, 0)
    # It loads itself again when all is sent; then once more by hand, which must send nothing twice.
    page.wait_for_timeout(1000)
    page.reload()
    page.wait_for_timeout(1000)
    rows = [
        (row.task.kind, row.done, row.stopped_at is None, row.person)
        for row in Actual.objects.select_related("task", "person").order_by("pk")
    ]
    assert rows == [("posts", 0, True, day), ("anchors", 12, False, day)]
    assert "12 of 40 anchors done" in page.locator(".day-task").nth(1).inner_text()
    assert not faults


def test_what_the_server_refuses_is_told_at_the_task(page_at, day):
    page = page_at(390, service_workers="allow")
    page.goto(f"/crew/day/?person={day.slug}")
    first = page.locator(".day-task").nth(0)
    first.get_by_label("Done now").fill("a few")
    first.get_by_role("button", name="Stop").click()
    until(page, "document.querySelector('[data-waiting]').textContent.includes('was not kept')")
    assert "Type how many were done" in page.locator("[data-waiting]").nth(0).inner_text()
    page.get_by_role("button", name="Take the refused presses off this phone").click()
    wait_for(page, 0)
    assert not Actual.objects.exists()
