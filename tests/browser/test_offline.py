"""A phone without reception, and switched off between: it reads days that it never opened, and counts a rack.

Whatever becomes of the answer, of the sign-in or of the count meanwhile, what was counted is entered once or told.
"""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, datetime, time, timedelta

import pytest
from django.core.signals import request_started
from playwright.sync_api import Error

from farmbuild.crew.models import Actual, Kind, Person, Task
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Membership
from farmbuild.plans.models import PlanHouse
from farmbuild.stock.counts import services
from farmbuild.stock.models import CountEntry, CountLine, Lot
from tests import where
from tests.browser.reception import Reception
from tests.browser.test_day_list import comes, until, wait_for
from tests.client import Client
from tests.factories import CrewFactory, LotFactory, MembershipFactory, PlaceFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
KEPT = "'keptNow' in document.body.dataset"
#: What is kept of a script that pages ask for.
SCRIPT = """caches.open("day-list-1").then((cache) => cache.match("/static/farmbuild/sending.js"))
  .then((kept) => kept.text())"""
#: The script is one of before, and all was kept longer ago than it stays.
OF_BEFORE = """caches.open("day-list-1").then(async (cache) => {
  await cache.put("/static/farmbuild/sending.js", new Response("", { headers: { "Content-Type": "text/javascript" } }));
  const meta = `${document.body.dataset.kept}?as=json`;
  await cache.put(meta, Response.json({ ...(await (await cache.match(meta)).json()), at: 0, had: {} }));
})"""


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
    """The person of the sign-in has a task to press and hoops to bend today, and sticks to saw tomorrow."""
    organisation = demo.organisation
    person = Person.objects.get(user=demo.user)
    person.crew = CrewFactory(organisation=organisation)
    person.save()
    house = PlanHouse.objects.filter(accepted=True, plan__organisation=organisation).order_by("pk").first().house
    batch = HoopBatch.objects.of(organisation).exclude(state=HoopBatch.State.DONE).order_by("pk").first()
    bends = batch.shares.first().house
    Task.objects.filter(house__in=(house, bends), kind__in=(Kind.POSTS, Kind.SAW, Kind.BEND)).delete()
    today = today_of(organisation=organisation)
    tomorrow = today + timedelta(days=1)
    for day, kind, built in ((today, Kind.POSTS, house), (today, Kind.BEND, bends), (tomorrow, Kind.SAW, house)):
        at = datetime.combine(day, time(12), zone_of(organisation=organisation)).astimezone(UTC)
        Task.objects.create(
            organisation=organisation,
            house=built,
            kind=kind,
            count=40,
            people=1,
            minutes=60,
            crew=person.crew,
            starts_at=at,
            ends_at=at + timedelta(hours=1),
        )
    return person, house, batch


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
    person, house, batch = season
    organisation = person.organisation
    lot, count = a_rack(demo)
    with switched_on() as page:
        page.goto("/houses/")
        until(page, KEPT)
        # What the browser itself keeps for a minute is gone by then.
        page.context.new_cdp_session(page).send("Network.clearBrowserCache")
    # Off in the yard, on again in the field.
    reception.cut()
    with switched_on() as page:
        page.goto(f"/of/{organisation.slug}/crew/day/")
        assert heading(page).startswith(f"{person}, ")
        assert page.locator(".day-task").count() == 2
        page.get_by_role("link", name="Next day").click()
        assert "Saw pieces" in page.locator(".day-task h2").inner_text()
        # Any other page says what is there instead.
        page.goto(f"/of/{organisation.slug}/stock/")
        assert heading(page) == "Kept on this phone"
        page.get_by_role("link", name=f"Cut list of {house}").click()
        assert heading(page).startswith("Cutting")
        page.go_back()
        page.get_by_role("link", name=f"Bending sheet of {batch}").click()
        assert "sheet" in heading(page).lower()
        # Pressed and counted; both wait.
        page.goto(f"/of/{organisation.slug}/crew/day/")
        posts = page.locator(".day-task", has_text="round posts")
        posts.get_by_role("button", name="Start").click()
        wait_for(page, 1)
        page.goto(f"/of/{organisation.slug}/crew/kept/")
        page.get_by_role("link", name=f"{count}: {lot.place}", exact=True).click()
        for pieces in ("2", "3", "3"):
            # Pressed again it is the same that waits, with what was typed last.
            page.get_by_role("textbox", name=lot.reference).fill(pieces)
            page.locator("form[data-count] .thumb button").click()
            until(page, f"document.querySelector('[data-count-status]').textContent.includes('GATE-1: {pieces})')")
            wait_for(page, 2)
        page.reload()
        page.get_by_role("link", name="Go on").wait_for()
        assert page.get_by_role("textbox", name=lot.reference).input_value() == "3"
        page.goto(f"/of/{organisation.slug}/crew/kept/")
        rows = page.locator("[data-waits-list] p")
        rows.nth(1).wait_for()
        said = rows.all_inner_texts()
        assert said[0].startswith("Waits for the network: Ground posts") and "start, " in said[0]
        assert said[1].startswith("Waits for the network: 1 lot at Gate rack, ") and "(GATE-1: 3)" in said[1]
        # The program became another meanwhile: what is kept of it is of before.
        page.evaluate(OF_BEFORE)
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
        assert CountEntry.objects.filter(line__count=count).count() == 1
        until(page, KEPT)
        assert page.evaluate(f"{SCRIPT}.then((text) => text.includes('sender'))")
        # Signing out takes the pages away.
        page.get_by_role("button", name="Sign out").first.click()
        page.wait_for_url("**/sign-in/**")
        until(page, "caches.keys().then((names) => !names.includes('day-list-1'))")


def test_who_goes_on_before_all_is_kept_has_the_rest_fetched_alone(page_at, season):
    asked = []

    def hear(environ, **_):
        if environ.get("HTTP_X_KEPT") and "json" not in environ["HTTP_ACCEPT"]:
            asked.append(f"{environ['PATH_INFO']}?{environ['QUERY_STRING']}")

    page = page_at(390, service_workers="allow")
    request_started.connect(hear)
    try:
        page.goto("/houses/")
        comes(page, lambda: len(asked) > 2)
        page.goto("/stock/")
        until(page, KEPT)
        page.goto("/houses/")
        page.wait_for_load_state("networkidle")
    finally:
        request_started.disconnect(hear)
    assert len(set(asked)) > 4
    # The one that was on its way when the page was left comes again.
    twice = [address for address in set(asked) if asked.count(address) > 1]
    assert len(twice) <= 1 and asked.count(asked[0]) == 1, asked


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


def press_without_reception(page, count, lot, pieces):
    page.context.set_offline(False)
    page.goto(f"/stock/counts/{count.number}/places/{lot.place_id}/")
    page.context.set_offline(True)
    page.get_by_role("textbox", name=lot.reference).fill(pieces)
    page.locator("form[data-count] .thumb button").click()
    wait_for(page, 1)


def says(page, words):
    until(page, f"document.body.innerText.includes({words!r})")


def test_a_count_is_entered_once_in_the_name_of_who_counted_or_what_became_of_it_is_told(page_at, demo):
    lot, count = a_rack(demo)
    second = MembershipFactory(organisation=demo.organisation, role=Membership.Role.YARD).user
    page = page_at(390, service_workers="block")
    entries = CountEntry.objects.filter(line__count=count)
    sheet = f"/stock/counts/{count.number}/places/{lot.place_id}/"

    # The answer is lost, and then two tabs send what waits at once.
    lost = []

    def lose_the_first(route):
        if route.request.method != "POST" or lost:
            return route.fallback()
        lost.append(route.fetch().status)
        return route.abort()

    page.context.route(f"**{sheet}*", lose_the_first)
    other = page.context.new_page()
    other.goto("/houses/")
    page.goto(sheet)
    page.get_by_role("textbox", name=lot.reference).fill("4")
    page.locator("form[data-count] .thumb button").click()
    says(page, "Waits for the network: 1 lot")
    assert lost == [201] and entries.count() == 1
    for tab in (page, other):
        tab.evaluate("void dispatchEvent(new Event('online'))")
    wait_for(other, 0)
    assert [entry.counted for entry in entries.order_by("pk")] == [4]
    page.close()
    page = other.context.new_page()

    # Signed out meanwhile, it waits; whoever signs in on that phone neither reads nor sends it.
    press_without_reception(page, count, lot, "5")
    own = page.context.cookies()
    page.context.clear_cookies()
    page.context.set_offline(False)
    says(page, "Sign in again to send what waits on this phone.")
    somebody_else = Client()
    somebody_else.force_login(second)
    mine = next(cookie for cookie in own if cookie["name"] == "sessionid")
    page.context.add_cookies([{**mine, "value": somebody_else.cookies["sessionid"].value}])
    with page.expect_response(lambda answer: answer.request.method == "POST" and answer.status == 403):
        # The page of the first is open still.
        page.evaluate("void dispatchEvent(new Event('online'))")
    other.goto("/crew/kept/")
    until(other, f"document.body.dataset.person.endsWith(' {second.pk}')")
    wait_for(other, 1)
    assert "GATE-1" not in other.content() and not other.locator("[data-waits-list] p").count()
    assert entries.count() == 1
    page.context.clear_cookies()
    page.context.add_cookies(own)
    other.goto("/houses/")
    says(other, "Sent what waited on this phone.")
    assert [entry.by for entry in entries.order_by("pk")] == [demo.user, demo.user]

    # The count ended before it was sent: it says so, and what was counted stays to be read.
    press_without_reception(page, count, lot, "7")
    services.cancel_count(organisation=demo.organisation, user=demo.user, count=count)
    page.context.set_offline(False)
    says(page, f"{count} has ended")
    says(page, "(GATE-1: 7)")
    page.get_by_role("link", name="What waits").click()
    page.get_by_role("button", name="Drop: 1 lot at Gate rack").click()
    says(page, "Dropped: 1 lot at Gate rack")
    wait_for(page, 0)
    assert entries.count() == 2


def test_whoever_signs_in_next_reads_nothing_of_the_last(switched_on, reception, demo, season, client):
    person = season[0]
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
