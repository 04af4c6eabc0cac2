"""Every kind of page, and a day without reception, in Firefox and WebKitGTK: a part of the long run by itself.

``FARMBUILD_LONG=1 pytest tests/browser/engines -s``; on Debian ``firefox-esr``, ``webkit2gtk-driver`` and ``xvfb``.
"""

from __future__ import annotations

import shutil
from datetime import timedelta

import pytest
from django.utils import timezone

from farmbuild.crew.models import Actual, Kind, Task
from farmbuild.sites.models import House
from tests.browser.engines.driver import FIREFOX, WEBKIT, Firefox, WebKit, until
from tests.browser.reception import Reception
from tests.factories import CrewFactory, PersonFactory
from tests.size import LONG
from tests.upgrades.addresses import addresses

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser,
    pytest.mark.skipif(not LONG, reason="a part of the long run: FARMBUILD_LONG=1 opens Firefox and WebKitGTK"),
]
#: The password of the demo's owner.
_PASSWORD = "hoops-and-rail"
_WIDTHS = (390, 1440)
_SPILL = "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
_WAITING = """return new Promise((give) => {
  const opening = indexedDB.open("day-presses", 1);
  opening.onsuccess = () => {
    const reading = opening.result.transaction(["presses"]).objectStore("presses").count();
    reading.onsuccess = () => { opening.result.close(); give(reading.result); };
  };
})"""


@pytest.fixture(params=[Firefox, WebKit], ids=lambda engine: engine.name)
def browser(request, tmp_path):
    missing = {Firefox: not FIREFOX, WebKit: not (WEBKIT and shutil.which("Xvfb"))}
    if missing[request.param]:
        pytest.skip(f"needs {request.param.name}: firefox-esr, webkit2gtk-driver, xvfb")
    opened = request.param(tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def reception(live_server):
    there = Reception(live_server.url)
    yield there
    there.cut()


def sign_in(browser, url: str, user) -> None:
    browser.open(f"{url}/sign-in/")
    browser.run(
        """const name = document.querySelector("[name=username]");
        name.value = arguments[0];
        document.querySelector("[name=password]").value = arguments[1];
        name.form.requestSubmit();""",
        user.username,
        _PASSWORD,
    )
    until(lambda: browser.run("return location.pathname") != "/sign-in/")


def test_no_page_spills_over_and_none_has_an_error(browser, live_server, demo, client):
    client.force_login(demo.user)
    pages = []
    for name, found in addresses():
        for address in found[:1]:
            answer = client.get(address)
            if answer.status_code == 200 and answer.headers["content-type"].startswith("text/html"):
                pages.append((name, address))
    sign_in(browser, live_server.url, demo.user)
    wrong, seen = [], 0
    for width in _WIDTHS:
        browser.widen(width)
        for name, address in pages:
            if name == "sign-in":
                continue
            browser.open(live_server.url + address)
            seen += 1
            if browser.run("return innerWidth") != width:
                wrong.append(f"{address} was not {width} px wide")
            if (spill := browser.run(_SPILL)) > 1:
                wrong.append(f"{address} scrolls sideways by {spill} px at {width} px")
            if (headings := browser.run("return document.querySelectorAll('h1').length")) != 1:
                wrong.append(f"{address} has {headings} headings of the first rank")
            wrong += [f"{address}: {error}" for error in browser.errors()]
    told = "its console was read" if browser.tells_errors else "it tells nothing of its console"
    print(f"\n{browser.name}: {seen} views of {len(pages)} kinds of page; {told}")
    assert len(pages) > 80
    assert wrong == []


@pytest.fixture
def person(demo):
    """Someone of the demo farm with one task of today."""
    organisation = demo.user.memberships.get().organisation
    someone = PersonFactory(crew=CrewFactory(organisation=organisation), name="Odd Jobson", slug="odd-jobson")
    house = House.objects.of(organisation).filter(archived_at=None).order_by("pk").last()
    Task.objects.filter(house=house).delete()
    now = timezone.now()
    Task.objects.create(
        organisation=organisation,
        house=house,
        kind=Kind.POSTS,
        count=40,
        people=1,
        minutes=60,
        crew=someone.crew,
        starts_at=now,
        ends_at=now + timedelta(minutes=5),
    )
    return someone


def pressed():
    return Actual.objects.filter(person__slug="odd-jobson")


def test_a_press_without_reception_waits_and_is_sent_once(browser, reception, demo, person):
    browser.widen(390)
    sign_in(browser, reception.url, demo.user)
    address = f"{reception.url}/crew/day/?person={person.slug}"
    kept = "return 'kept' in document.querySelector('[data-day-list]').dataset"
    browser.open(address)
    until(lambda: browser.run(kept))
    browser.open(address)
    until(lambda: browser.run("return !!navigator.serviceWorker.controller"))

    reception.cut()
    start = "return [...document.querySelectorAll('.day-task button')].find((one) => /^Start\\b/.test(one.innerText))"
    browser.run(f"{start.replace('return ', 'const found = ', 1)}; found.click()")
    until(lambda: browser.run(_WAITING) == 1)
    # Read from what is kept, with what waits.
    browser.open(address)
    until(lambda: browser.run("return document.querySelectorAll('.day-task').length") == 1)
    until(lambda: "Waits for the network: start" in browser.run("return document.body.innerText"))
    assert browser.run(_WAITING) == 1 and not pressed().exists()

    reception.back()
    browser.open(address)
    until(lambda: browser.run(_WAITING) == 0)
    until(lambda: pressed().count() == 1)
    browser.open(address)
    until(lambda: browser.run(kept))
    assert browser.run(_WAITING) == 0 and pressed().count() == 1
    assert pressed().get().task.kind == Kind.POSTS
