"""The list of a day on a phone that loses its reception: read, pressed, loaded again, and sent once each."""

from __future__ import annotations

import re
from contextlib import contextmanager, nullcontext, suppress
from datetime import timedelta
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Error

from farmbuild.crew.models import Actual, Kind, ProblemPhoto, Task
from tests.browser.reading import problems_of
from tests.crew.problems.making import MAKER, PLACE, a_photo, encoded
from tests.factories import CrewFactory, PersonFactory

#: The button, not that of a press that waits.
START = re.compile(r"^Start\b")
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def day(demo):
    """A person of the demo farm and two tasks of today."""
    organisation = demo.user.memberships.get().organisation
    person = PersonFactory(crew=CrewFactory(organisation=organisation), name="Odd Jobson", slug="odd-jobson")
    # Nothing is recorded at the last house, so that its tasks can go.
    house = organisation_houses(organisation)[-1]
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


def recorded():
    """What was pressed in the test; the demo season has work of its own."""
    return Actual.objects.filter(person__slug="odd-jobson")


def comes(page, said, tries=1500):
    """The first answer that is true, asked again and again while the browser goes on."""
    for _ in range(tries):
        # A page that is being loaded again cannot answer.
        with suppress(Error):
            if found := said():
                return found
        page.wait_for_timeout(20)
    raise AssertionError("it never came")


def until(page, said, tries=1500):
    """Ask the page again and again; the policy of the pages forbids Playwright's own way of waiting."""
    try:
        comes(page, lambda: page.evaluate(said), tries)
    except AssertionError as error:
        raise AssertionError(f"never true: {said}") from error


def answers_to_presses(page):
    """The list to which every answer to a press is added from now on."""
    heard = []
    page.on("response", lambda answer: heard.append(answer) if answer.request.method == "POST" else None)
    return heard


@contextmanager
def loaded_again(page):
    """In the block the page is loaded again; afterwards it has looked for what waits and is kept on the phone."""
    page.evaluate("window.earlier = true")
    yield
    until(page, "!window.earlier && 'kept' in document.querySelector('[data-day-list]').dataset")


#: How many presses, and how many photos of presses, wait on the device.
WAITING = """new Promise((give) => {
  const opening = indexedDB.open("day-presses", 1);
  opening.onsuccess = () => {
    const reading = opening.result.transaction(["presses", "photos"]);
    const counts = ["presses", "photos"].map((name) => reading.objectStore(name).count());
    reading.oncomplete = () => {
      opening.result.close();
      give(counts.map((count) => count.result));
    };
  };
})"""


def wait_for(page, presses, photos=0):
    until(page, f"{WAITING}.then((counts) => counts[0] === {presses} && counts[1] === {photos})")


def waits(page, task):
    """What stands at the buttons of a task."""
    return " ".join(page.locator(".day-task").nth(task).locator("[data-waits]").all_inner_texts())


#: From now on every text that a live region of the page gets once it is loaded, in order.
LISTEN = """() => addEventListener("DOMContentLoaded", () => {
  window.said = [];
  new MutationObserver((changes) => {
    for (const { target } of changes) {
      const region = (target.nodeType === 1 ? target : target.parentElement)?.closest("[role=status]");
      if (region?.textContent.trim()) window.said.push(region.textContent.trim().replace(/\\s+/g, " "));
    }
  }).observe(document.body, { childList: true, characterData: true, subtree: true });
})"""


def test_what_waits_is_said_at_its_button_by_the_farms_clock_and_one_press_is_dropped(page_at, day):
    organisation = day.organisation
    organisation.time_zone = "America/Chicago"
    organisation.save()
    # The phone is on another clock.
    page = page_at(390, service_workers="allow", timezone_id="Asia/Tokyo")
    today = timezone.now().astimezone(ZoneInfo("America/Chicago"))
    page.goto(f"/crew/day/?person={day.slug}&day={today.date().isoformat()}")
    page.wait_for_selector("[data-day-list][data-kept]")
    page.context.set_offline(True)
    first, second = page.locator(".day-task").nth(0), page.locator(".day-task").nth(1)
    first.get_by_role("button", name=START).click()
    wait_for(page, 1)
    record_hours(second, done="12")
    wait_for(page, 2)
    clocks = {(today + timedelta(minutes=n)).strftime("%H:%M") for n in range(3)}
    note = first.locator("[data-fits] + [data-waits]")
    assert any(note.inner_text().startswith(f"Waits for the network: start, {clock}.") for clock in clocks)
    assert "12 counted" in waits(page, 1)
    button = first.get_by_role("button", name="Drop: start")
    assert button.inner_text() == "Drop" and button.bounding_box()["height"] >= 44
    assert not first.get_by_role("button", name=START).count()
    button.click()
    wait_for(page, 1)
    first.get_by_role("button", name=START).wait_for()
    # Just that one; it stays dropped on the page as it is kept, and is never sent.
    assert waits(page, 0).strip() == "" and "Waits for the network: stop" in waits(page, 1)
    assert "Dropped: start" in page.locator("[data-day-status]").inner_text()
    page.reload()
    page.wait_for_selector(".day-task")
    until(page, "[...document.querySelectorAll('[data-waits]')].some((one) => one.textContent.includes('Waits'))")
    assert waits(page, 0).strip() == ""
    heard = answers_to_presses(page)
    with loaded_again(page):
        page.context.set_offline(False)
    wait_for(page, 0)
    assert len(heard) == 1
    assert [(row.task.kind, row.done) for row in recorded().select_related("task")] == [("anchors", 12)]


def test_what_is_on_its_way_is_not_dropped(page_at, day):
    page = page_at(390, service_workers="block")
    held = []
    page.context.route("**/tick/", lambda route: held.append(route))
    page.goto(f"/crew/day/?person={day.slug}")
    first = page.locator(".day-task").nth(0)
    first.get_by_role("button", name=START).click()
    comes(page, lambda: held)
    # A word of the page that comes right after may take the place of the answer, so it is asked for again.
    for tries in (100, 100, 1500):
        first.get_by_role("button", name="Drop: start").click()
        with nullcontext() if tries == 1500 else suppress(AssertionError):
            until(page, "document.querySelector('[data-day-status]').textContent.includes('on its way already')", tries)
            break
    wait_for(page, 1)
    held[0].continue_()
    until(page, "document.querySelector('[data-day-status]')?.textContent.startsWith('Kept: ')")
    wait_for(page, 0)
    assert recorded().count() == 1


def test_a_fresh_page_reads_out_what_a_press_did(page_at, day):
    page = page_at(390, service_workers="block")
    page.add_init_script(f"({LISTEN})()")
    page.clock.install()
    page.goto(f"/crew/day/?person={day.slug}")
    with loaded_again(page):
        page.locator(".day-task").nth(0).get_by_role("button", name=START).click()
    until(page, "window.said.some((text) => /^Kept: Ground posts.*start, [0-9]{2}:[0-9]{2}\\.$/.test(text))")
    # Loaded once more it is not said again.
    with loaded_again(page):
        page.reload()
    # The moment passes after which a page says what came of presses.
    page.clock.run_for(600)
    assert not page.evaluate("window.said.some((text) => text.startsWith('Kept'))")
    # And every other page says what its form led to.
    page.goto("/crew/people/new/")
    page.get_by_label("Name").fill("Ann Hooper")
    page.locator("form.sheet button.action").click()
    until(page, "(window.said ?? []).some((text) => text.includes('Ann Hooper'))")


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
    page.locator(".day-task").nth(0).get_by_role("button", name=START).click()
    wait_for(page, 1)
    # Started, though nothing is sent yet: now Stop and Done fit.
    first = page.locator(".day-task").nth(0)
    first.get_by_role("button", name="Stop").wait_for()
    assert not first.get_by_role("button", name=START).count()
    record_hours(page.locator(".day-task").nth(1), done="12")
    wait_for(page, 2)
    assert "2 presses wait for the network" in page.locator("[data-day-status]").inner_text()
    assert not recorded().exists()

    # The page is read from what is kept, and the presses are still there.
    page.reload()
    page.wait_for_selector(".day-task")
    assert "Waits for the network: stop" in waits(page, 1)
    wait_for(page, 2)
    heard = answers_to_presses(page)
    # It loads itself again when all is sent; then once more by hand, which must send nothing twice.
    with loaded_again(page):
        page.context.set_offline(False)
    with loaded_again(page):
        page.reload()
    wait_for(page, 0)
    assert len(heard) == 2
    rows = [
        (row.task.kind, row.done, row.stopped_at is None, row.person)
        for row in recorded().select_related("task", "person").order_by("pk")
    ]
    assert rows == [("posts", 0, True, day), ("anchors", 12, False, day)]
    assert "12 of 40 anchors done" in page.locator(".day-task").nth(1).inner_text()
    assert not faults


#: What this phone keeps of the list is as old as can be, so that the next page fetches all of it anew.
AGED = """(async () => {
  const cache = await caches.open("day-list-1");
  const note = (await cache.keys()).find(({ url }) => url.endsWith("crew/kept/?as=json"));
  const said = await (await cache.match(note)).json();
  await cache.put(note, new Response(JSON.stringify({ ...said, at: 0, had: {} })));
})()"""


def test_the_list_of_somebody_else_that_was_opened_stays_until_its_day_is_over(page_at, day):
    page = page_at(390, service_workers="allow")
    all_kept = "'keptNow' in document.body.dataset"
    before = timezone.localdate() - timedelta(days=3)
    opened = []
    for asked in ("", f"&day={before.isoformat()}"):
        page.goto(f"/crew/day/?person={day.slug}{asked}")
        until(page, f"'kept' in document.querySelector('[data-day-list]').dataset{'' if asked else f' && {all_kept}'}")
        opened.append(page.url)
    page.goto("/houses/")
    page.evaluate(AGED)
    page.reload()
    until(page, all_kept)
    page.context.set_offline(True)
    # Its address without a day leads to today's.
    page.goto(opened[0])
    assert page.locator(".day-task").count() == 2
    page.goto(opened[1])
    assert not page.locator("[data-day-list]").count()
    page.get_by_role("heading", name="Kept on this phone").wait_for()


def test_what_the_server_refuses_is_told_at_the_task(page_at, day):
    page = page_at(390, service_workers="allow")
    page.goto(f"/crew/day/?person={day.slug}")
    first = page.locator(".day-task").nth(0)
    record_hours(first, done="a few")
    until(page, "document.querySelector('[data-waiting]').textContent.includes('was not kept')")
    assert "Type how many were done" in page.locator("[data-waiting]").nth(0).inner_text()
    page.get_by_role("button", name="Take the refused presses off this phone").click()
    wait_for(page, 0)
    assert not recorded().exists()


def photo_file(name="field.jpg", data=None, kind="image/jpeg"):
    return {"name": name, "mimeType": kind, "buffer": a_photo((2400, 1800), orientation=6) if data is None else data}


def record_hours(task, **typed):
    """Work that nobody pressed Start for."""
    open_hours(task)
    for label, name in (("Hours it took", "hours"), ("Done now", "done")):
        task.get_by_label(label).fill(typed.get(name, "2"))
    task.get_by_role("button", name="Record hours").click()


def open_hours(task):
    unfold(task, "Record hours")


def unfold(task, words):
    shut = task.locator("form details:not([open]) > summary", has_text=words)
    if shut.count():
        shut.click()


def say_with_photo(task, words="post leans to the road", photos=1):
    unfold(task, "Report a problem")
    task.get_by_label("Anything wrong").fill(words)
    for number in range(photos):
        task.locator("input[type=file]").nth(number % 2).set_input_files(photo_file())
        task.get_by_role("button", name=f"Leave photo {number + 1} out").wait_for()
    task.get_by_role("button", name="Report the problem").click()


def whole_photo(actual):
    photo = actual.photos.get()
    return Image.open(BytesIO(photo.data)), bytes(photo.data)


def test_a_problem_with_its_photo_waits_for_reception_and_is_sent_once(page_at, day):
    page = page_at(390, service_workers="allow")
    faults = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(f"/crew/day/?person={day.slug}")
    page.wait_for_selector("[data-day-list][data-kept]")
    page.context.set_offline(True)
    first, second = page.locator(".day-task").nth(0), page.locator(".day-task").nth(1)
    say_with_photo(first)
    wait_for(page, 1, 1)
    assert "with 1 photo" in waits(page, 0)
    # The form is empty again, so that nothing is pressed twice.
    assert first.get_by_label("Anything wrong").input_value() == ""
    assert first.locator("[data-previews] img").count() == 0
    say_with_photo(second, "anchor pulled out", photos=2)
    wait_for(page, 2, 3)
    page.reload()
    page.wait_for_selector(".day-task")
    wait_for(page, 2, 3)
    assert not recorded().exists()

    heard = answers_to_presses(page)
    with loaded_again(page):
        page.context.set_offline(False)
    with loaded_again(page):
        page.reload()
    wait_for(page, 0, 0)
    assert len(heard) == 2
    rows = [(row.task.kind, row.problem, row.photos.count()) for row in recorded().order_by("pk")]
    assert rows == [("posts", "post leans to the road", 1), ("anchors", "anchor pulled out", 2)]
    image, data = whole_photo(recorded().order_by("pk").first())
    # Turned upright and made smaller in the browser already: 1800 x 2400 as it is seen.
    assert image.size == (1200, 1600)
    assert not any(mark in data for mark in (MAKER, PLACE, b"Exif"))
    shown = page.locator(".day-task").nth(0).locator(".thumbnails img")
    assert shown.get_attribute("alt").startswith("Photo with the problem: post leans to the road")
    assert shown.evaluate("image => image.complete && image.naturalWidth") == 240
    assert not faults


def test_a_photo_whose_answer_is_lost_is_sent_again_and_kept_once(page_at, day):
    page = page_at(390, service_workers="block")
    heard = []

    def lose_the_first_two(route):
        answer = route.fetch()
        heard.append(answer.json()["kept"])
        route.abort() if len(heard) < 3 else route.fulfill(response=answer)

    page.context.route("**/tick/", lose_the_first_two)
    page.goto(f"/crew/day/?person={day.slug}")
    say_with_photo(page.locator(".day-task").nth(0))
    until(page, "true")
    for wanted in (1, 2, 3):
        comes(page, lambda wanted=wanted: len(heard) >= wanted)
        if wanted < 3:
            wait_for(page, 1, 1)
            page.evaluate("window.dispatchEvent(new Event('online'))")
    # It loads itself again when all is sent.
    until(page, "document.querySelectorAll('.thumbnails img').length === 1")
    wait_for(page, 0, 0)
    assert heard == [True, True, True]
    assert recorded().count() == 1 and ProblemPhoto.objects.filter(actual__in=recorded()).count() == 1


def test_photos_are_chosen_left_out_and_asked_for_words(page_at, day):
    page = page_at(390, has_touch=True)
    page.goto(f"/crew/day/?person={day.slug}")
    first = page.locator(".day-task").nth(0)
    camera, files = first.locator("input[type=file]").nth(0), first.locator("input[type=file]").nth(1)
    assert camera.get_attribute("capture") == "environment" and files.get_attribute("capture") is None
    unfold(first, "Report a problem")
    for label in ("Take a photo", "Choose photos"):
        box = first.locator("label.pick", has_text=label).bounding_box()
        assert box["height"] >= 48 and box["width"] >= 120
    files.set_input_files([photo_file(f"{n}.jpg") for n in range(3)])
    first.get_by_role("button", name="Leave photo 3 out").wait_for()
    first.get_by_role("button", name="Leave photo 2 out").click()
    assert first.locator("[data-previews] img").count() == 2
    files.set_input_files([photo_file("IMG_1.HEIC", b"\0\0\0\x18ftypheic", "image/heic")])
    until(page, "document.querySelector('[data-photos] [data-errors]').innerText.includes('Set the camera to JPEG')")
    files.set_input_files([photo_file("notes.png", b"not a picture", "image/png")])
    until(page, "document.querySelector('[data-photos] [data-errors]').innerText.includes('cannot be read as a photo')")
    camera.set_input_files(photo_file("clear.png", encoded(Image.new("RGBA", (60, 40)), "PNG"), "image/png"))
    first.get_by_role("button", name="Leave photo 3 out").wait_for()
    files.set_input_files([photo_file(f"{n}.jpg") for n in range(2)])
    until(page, "document.querySelector('[data-photos] [data-errors]').innerText.includes('Up to 4 photos')")
    open_hours(first)
    first.get_by_label("Hours it took").fill("2")
    first.get_by_role("button", name="Done").click()
    until(
        page, "document.querySelector('[data-field=problem] [data-errors]').innerText.includes('what the photo shows')"
    )
    assert first.locator("[data-previews] img").count() == 4
    wait_for(page, 0, 0)
    assert not recorded().exists()
    first.get_by_label("Anything wrong").fill("first post split")
    first.get_by_role("button", name="Done").click()
    wait_for(page, 0, 0)
    until(page, "document.querySelectorAll('.thumbnails img').length === 4")
    assert [photo.width for photo in recorded().get().photos.all()] == [1200, 1200, 60, 1200]


def test_what_is_typed_is_there_after_the_page_was_let_go_of(page_at, day):
    """As on a phone that is short of memory while its camera is open."""
    page = page_at(390)
    page.goto(f"/crew/day/?person={day.slug}")
    first, second = page.locator(".day-task").nth(0), page.locator(".day-task").nth(1)
    unfold(first, "Report a problem")
    first.get_by_label("Anything wrong").fill("post leans")
    open_hours(first)
    first.get_by_label("Done now").fill("4")
    page.goto("/crew/")
    page.goto(f"/crew/day/?person={day.slug}")
    assert first.get_by_label("Anything wrong").input_value() == "post leans"
    assert (first.get_by_label("Done now").input_value(), second.get_by_label("Done now").input_value()) == ("4", "")
    # A press at another task is sent, and the page does not load itself again over what is typed or being taken.
    unfold(second, "Report a problem")
    with page.expect_file_chooser():
        second.locator("label.pick", has_text="Choose photos").click()
    page.evaluate("window.stays = true; addEventListener('beforeunload', () => { window.stays = false; })")
    second.get_by_role("button", name=START).click()
    until(page, "document.querySelector('[data-day-status]').textContent.startsWith('Kept: ')")
    # Had it asked for itself again, then before this.
    page.evaluate("fetch(location.href).then((answer) => answer.text())")
    assert page.evaluate("window.stays") and recorded().count() == 1
    first.get_by_label("Hours it took").fill("1.5")
    first.get_by_role("button", name="Record hours").click()
    wait_for(page, 0)
    page.reload()
    assert first.get_by_label("Anything wrong").input_value() == first.get_by_label("Done now").input_value() == ""
    assert recorded().filter(done=4, problem="post leans").count() == 1


def test_what_was_refused_goes_back_into_its_form_with_its_photos(page_at, day):
    page = page_at(390, service_workers="block")
    page.goto(f"/crew/day/?person={day.slug}")
    first = page.locator(".day-task").nth(0)
    open_hours(first)
    first.get_by_label("Done now").fill("a few")
    say_with_photo(first)
    again = first.get_by_role("button", name="Correct what was not kept")
    again.wait_for()
    wait_for(page, 1, 1)
    again.click()
    first.get_by_role("button", name="Leave photo 1 out").wait_for()
    assert first.get_by_label("Done now").input_value() == "a few"
    assert "whole number" in first.locator("[data-field=done]").inner_text()
    wait_for(page, 0, 0)
    record_hours(first, done="3")
    until(page, "document.querySelectorAll('.thumbnails img').length === 1")
    row = recorded().get()
    assert (row.done, row.problem, row.photos.count()) == (3, "post leans to the road", 1)


def test_without_the_script_the_form_itself_sends_the_photo(page_at, day):
    page = page_at(390, java_script_enabled=False)
    page.goto(f"/crew/day/?person={day.slug}")
    first = page.locator(".day-task").nth(0)
    unfold(first, "Report a problem")
    first.locator("input[type=file]").nth(1).set_input_files(photo_file())
    first.get_by_role("button", name="Report the problem").click()
    assert "what the photo shows" in first.locator("[data-field=problem]").inner_text()
    first.get_by_label("Anything wrong").fill("bent the wrong way")
    first.locator("input[type=file]").nth(1).set_input_files(photo_file())
    first.get_by_role("button", name="Report the problem").click()
    page.wait_for_url("**/crew/day/?person=odd-jobson*")
    image, data = whole_photo(recorded().get())
    assert image.size == (1200, 1600) and not any(mark in data for mark in (MAKER, PLACE, b"Exif"))


def test_pages_of_problems_read_well(page_at, day):
    page = page_at(1440)
    page.goto(f"/crew/day/?person={day.slug}")
    say_with_photo(page.locator(".day-task").nth(0), photos=2)
    until(page, "document.querySelectorAll('.thumbnails img').length === 2")
    actual = recorded().get()
    photo = actual.photos.first()
    faults = []
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    addresses = (
        "/crew/problems/",
        f"/crew/problems/{actual.pk}/",
        f"/crew/photos/{photo.pk}/",
        f"/crew/tasks/{actual.task_id}/",
        f"/crew/day/?person={day.slug}",
    )
    for address in addresses:
        page.goto(address)
        images = page.eval_on_selector_all("main img", "all => all.map(one => one.naturalWidth > 0 && one.alt)")
        assert images and all(images), (address, images)
        faults += problems_of(page)
    assert not faults
    # The two lines of a row on a phone have no room for photos; there the row leads to them.
    page.set_viewport_size({"width": 1440, "height": 900})
    page.goto("/crew/problems/")
    page.get_by_role("link", name="Photo 1 of 2 with the problem").click()
    page.wait_for_url(f"**/crew/photos/{photo.pk}/")
    assert page.locator("main img").evaluate("image => image.naturalWidth") == 1200
