"""A phone without reception, and switched off between: it reads days that it never opened, and counts a rack."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, datetime, time, timedelta

import pytest
from playwright.sync_api import Error

from farmbuild.crew.models import Actual, Kind, Person, Task
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Membership
from farmbuild.plans.models import PlanHouse
from farmbuild.stock.counts import services
from farmbuild.stock.models import CountEntry, CountLine, Lot
from tests import where
from tests.browser.reception import Reception
from tests.browser.test_day_list import until, wait_for
from tests.factories import CrewFactory, LotFactory, MembershipFactory, PlaceFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
KEPT = "'keptNow' in document.body.dataset"


@pytest.fixture
def reception(live_server):
    """Between phone and server. What emulates this in the browser does not always reach what answers for kept pages."""
    reception = Reception(live_server.url)
    yield reception
    reception.cut()


@pytest.fixture
def switched_on(chromium, reception, demo, client, tmp_path):
    """``with switched_on() as page``: the same phone each time, from its start until it is switched off."""
    client.force_login(demo.user)
    own = client.cookies["sessionid"].value

    @contextmanager
    def phone(session=own):
        context = chromium.browser_type.launch_persistent_context(
            tmp_path / "phone",
            executable_path=where.chromium(),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"],
            viewport={"width": 390, "height": 844},
            base_url=reception.url,
            service_workers="allow",
            reduced_motion="reduce",
        )
        context.add_cookies([{"name": "sessionid", "value": session, "url": reception.url}])
        try:
            yield context.pages[0]
        finally:
            context.close()

    return phone


@pytest.fixture
def season(demo):
    """The person of the sign-in has a task to press today, and one of sawing tomorrow."""
    organisation = demo.organisation
    person = Person.objects.get(user=demo.user)
    person.crew = CrewFactory(organisation=organisation)
    person.save()
    house = PlanHouse.objects.filter(accepted=True, plan__organisation=organisation).order_by("pk").first().house
    Task.objects.filter(house=house, kind__in=(Kind.POSTS, Kind.SAW)).delete()
    today = today_of(organisation=organisation)
    for day, kind in ((today, Kind.POSTS), (today + timedelta(days=1), Kind.SAW)):
        at = datetime.combine(day, time(12), zone_of(organisation=organisation)).astimezone(UTC)
        Task.objects.create(
            organisation=organisation,
            house=house,
            kind=kind,
            count=40,
            people=1,
            minutes=60,
            crew=person.crew,
            starts_at=at,
            ends_at=at + timedelta(hours=1),
        )
    return person, house


def a_rack(demo):
    """A lot, and the open count of the place in which it lies alone."""
    lot = LotFactory(
        material=Lot.objects.get(organisation=demo.organisation, reference="RACK-1").material,
        place=PlaceFactory(organisation=demo.organisation, name="Gate rack"),
        reference="GATE-1",
    )
    return lot, services.start_count(organisation=demo.organisation, user=demo.user, places=[lot.place])


def heading(page):
    return page.locator("h1").inner_text()


def test_days_are_read_and_a_rack_is_counted_without_ever_having_been_opened(switched_on, reception, demo, season):
    person, house = season
    organisation = person.organisation
    lot, count = a_rack(demo)
    with switched_on() as page:
        page.goto("/houses/")
        until(page, KEPT)
    # Off in the yard, on again in the field.
    reception.cut()
    with switched_on() as page:
        page.goto(f"/of/{organisation.slug}/crew/day/")
        assert heading(page).startswith(f"{person}, ")
        assert page.locator(".day-task").count() == 1
        page.get_by_role("link", name="Next day").click()
        assert "Saw pieces" in page.locator(".day-task h2").inner_text()
        # Any other page says what is there instead.
        page.goto(f"/of/{organisation.slug}/stock/")
        assert heading(page) == "Kept on this phone"
        page.get_by_role("link", name=f"Cut list of {house}").click()
        assert heading(page).startswith("Cutting")
        page.go_back()
        # Pressed and counted; both wait.
        page.goto(f"/of/{organisation.slug}/crew/day/")
        page.get_by_role("button", name="Start").first.click()
        wait_for(page, 1)
        page.goto(f"/of/{organisation.slug}/crew/kept/")
        until(page, "document.body.innerText.includes('1 press waits on this phone')")
        page.get_by_role("link", name=f"{count}: {lot.place}", exact=True).click()
        page.get_by_role("textbox", name=lot.reference).fill("3")
        page.locator("form[data-count] .thumb button").click()
        wait_for(page, 2)
        status = page.locator("[data-count-status]")
        until(
            page, "document.querySelector('[data-count-status]').textContent.includes('Waits for the network: 1 lot')"
        )
        assert status.get_by_role("link", name="Go on").count() == 1
    pressed = Actual.objects.filter(person=person, task__kind=Kind.POSTS)
    assert not pressed.exists()
    assert not CountEntry.objects.filter(line__count=count).exists()
    # Switched off and on again, with reception: any page sends what waits.
    reception.back()
    with switched_on() as page:
        page.goto("/houses/")
        until(page, "document.body.innerText.includes('Sent what waited on this phone.')")
        wait_for(page, 0)
        assert pressed.count() == 1
        assert CountLine.objects.get(count=count, lot=lot).counted == 3
        # Signing out takes the pages away.
        page.get_by_role("button", name="Sign out").first.click()
        page.wait_for_url("**/sign-in/**")
        until(page, "caches.keys().then((names) => !names.includes('day-list-1'))")


def test_a_count_at_a_rack_with_reception_goes_on_and_a_refusal_stands_at_its_box(page_at, demo):
    lot, count = a_rack(demo)
    page = page_at(390, service_workers="block")
    page.goto(f"/stock/counts/{count.number}/places/{lot.place_id}/")
    box = page.get_by_role("textbox", name=lot.reference)
    box.fill("a few")
    page.locator("form[data-count] .thumb button").click()
    page.wait_for_selector(".count-row.wrong")
    wait_for(page, 0)
    # The same without reception: it says so on this phone, and is dropped.
    page.get_by_role("textbox", name=lot.reference).fill("4")
    page.context.set_offline(True)
    page.locator("form[data-count] .thumb button").click()
    wait_for(page, 1)
    drop = page.get_by_role("button", name="Drop: 1 lot at")
    assert drop.bounding_box()["height"] >= 44
    drop.click()
    wait_for(page, 0)
    assert "Dropped: 1 lot" in page.locator("[data-count-status]").inner_text()
    page.context.set_offline(False)
    page.locator("form[data-count] .thumb button").click()
    page.wait_for_url(f"**/stock/counts/{count.number}/")
    assert CountLine.objects.get(count=count, lot=lot).counted == 4


def test_whoever_signs_in_next_reads_nothing_of_the_last(switched_on, reception, demo, season, client):
    person, _ = season
    day = f"/of/{person.organisation.slug}/crew/day/"
    with switched_on() as page:
        page.goto("/houses/")
        until(page, KEPT)
    elsewhere = MembershipFactory(role=Membership.Role.OWNER)
    client.force_login(elsewhere.user)
    with switched_on(client.cookies["sessionid"].value) as page:
        page.goto("/houses/")
        until(page, KEPT)
        reception.cut()
        with pytest.raises(Error, match=r"ERR_"):
            page.goto(day)
