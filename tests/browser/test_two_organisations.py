"""A phone of somebody with two organisations: each tab keeps to its own, and what waits goes where it was pressed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from farmbuild.crew.models import Actual, Kind, Task
from farmbuild.sites.models import Site
from tests.browser.reading import reflow_problems
from tests.browser.test_day_list import START, WAITING, until, wait_for
from tests.factories import CrewFactory, HouseFactory, MembershipFactory, PersonFactory, SiteFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Gives the only press that waits the address that such presses had before organisations stood in them.
AS_OF_BEFORE = """new Promise((give) => {
  const opening = indexedDB.open("day-presses", 1);
  opening.onsuccess = () => {
    const changing = opening.result.transaction("presses", "readwrite");
    const presses = changing.objectStore("presses");
    const reading = presses.getAll();
    reading.onsuccess = () => {
      const [press] = reading.result;
      presses.put({ ...press, url: press.url.replace(/^\\/of\\/[^/]+/, "") });
    };
    changing.oncomplete = () => {
      opening.result.close();
      give(reading.result.map((press) => press.url));
    };
  };
})"""

#: Registers the worker of the day list for the address without an organisation, and waits until it is at work.
WORKER_OF_BEFORE = """async () => {
  const at = await navigator.serviceWorker.register("/crew/day-worker.js", { scope: "/crew/day/" });
  const worker = at.installing ?? at.waiting ?? at.active;
  while (worker.state !== "activated") await new Promise((wake) => setTimeout(wake, 20));
}"""


def a_day(organisation, user) -> Task:
    """A task of today for the user, who is one of the people of the organisation."""
    person = PersonFactory(
        organisation=organisation, crew=CrewFactory(organisation=organisation), name="Odd Jobson", slug="odd-jobson"
    )
    person.user = user
    person.save()
    house = HouseFactory(site=SiteFactory(organisation=organisation), name="North 1", slug="north-1")
    now = timezone.now()
    return Task.objects.create(
        organisation=organisation,
        house=house,
        kind=Kind.POSTS,
        count=40,
        people=1,
        minutes=60,
        crew=person.crew,
        starts_at=now,
        ends_at=now + timedelta(minutes=5),
    )


@pytest.fixture
def client_of(client, transactional_db):
    """Two organisations of one person; the context of a phone on which she is signed in."""
    first = MembershipFactory()
    second = MembershipFactory(user=first.user)
    client.force_login(first.user)
    return first, second


def test_each_tab_and_each_press_keeps_to_its_organisation(chromium, live_server, client, client_of):
    first, second = client_of
    tasks = {row: a_day(row.organisation, first.user) for row in (first, second)}
    context = chromium.new_context(
        viewport={"width": 390, "height": 900},
        base_url=live_server.url,
        reduced_motion="reduce",
        service_workers="allow",
    )
    session = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    try:
        one, other = context.new_page(), context.new_page()
        # She chooses once, by the keyboard alone.
        one.goto("/")
        one.get_by_role("link", name=first.organisation.name).focus()
        one.keyboard.press("Enter")
        one.wait_for_url(f"**/of/{first.organisation.slug}/houses/")
        other.goto(f"/of/{second.organisation.slug}/sites/new/")
        assert not reflow_problems(other)
        # The tab that was opened first is used last.
        one.goto(f"/of/{first.organisation.slug}/sites/new/")
        for page, name in ((other, "Hill"), (one, "Creek")):
            page.get_by_label("Name").fill(name)
            page.locator("form.sheet button.action").click()
            page.wait_for_url(f"**/sites/{name.lower()}/")
        assert Site.objects.get(name="Hill").organisation == second.organisation
        assert Site.objects.get(name="Creek").organisation == first.organisation

        # Pressed without reception in the first one; then she goes on in the second.
        day = {row: f"/of/{row.organisation.slug}/crew/day/" for row in (first, second)}
        other.goto(day[second])
        other.wait_for_selector("[data-day-list][data-kept]")
        one.goto(day[first])
        one.wait_for_selector("[data-day-list][data-kept]")
        context.set_offline(True)
        one.locator(".day-task").first.get_by_role("button", name=START).click()
        wait_for(one, 1)
        assert one.evaluate(AS_OF_BEFORE) == [f"{day[first]}{tasks[first].pk}/tick/"]
        one.close()
        # The kept list of the second is read where there is no reception, and shows nothing of the first.
        other.reload()
        other.wait_for_selector(".day-task")
        assert "Waits for the network" not in other.locator("[data-day-list]").inner_text()
        assert other.evaluate(WAITING)[0] == 1
        context.set_offline(False)
        wait_for(other, 0)
        pressed = Actual.objects.get()
        assert (pressed.task, pressed.organisation) == (tasks[first], first.organisation)
        until(other, "document.body.innerText.includes('Kept in your other organisation: start')")

        # A bookmark of before opens the list of the one used last, also where there is no reception.
        other.goto("/crew/day/")
        other.wait_for_url(f"**{day[second]}")
        # A phone of before has its worker at that address still.
        other.evaluate(WORKER_OF_BEFORE)
        context.set_offline(True)
        other.goto("/crew/day/")
        other.wait_for_url(f"**{day[second]}")
        other.wait_for_selector(".day-task")
        context.set_offline(False)
    finally:
        context.close()
