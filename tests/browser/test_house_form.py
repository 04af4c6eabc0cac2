"""The form of a house in Chromium: the drawing follows what is typed, and Save and drawing stay in view."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.sites.models import House
from farmbuild.sites.services import create_house, prepare_starter
from farmbuild.sites.starters import starter_named
from tests.browser.reading import problems_of
from tests.browser.test_day_list import comes
from tests.factories import SiteFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHONE = {"width": 390, "height": 844}
#: Where the box that has the focus stands, and what lies over its middle.
FOCUSED = """() => {
  const seen = document.activeElement, box = seen.getBoundingClientRect();
  const over = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
  return {name: seen.name || seen.textContent.trim(), clear: seen.contains(over), top: box.top, bottom: box.bottom};
}"""


def stored(organisation, user, slug: str) -> House:
    return create_house(
        organisation=organisation,
        user=user,
        site=SiteFactory(organisation=organisation, name=f"Field of {slug}"),
        name=f"House {slug}",
        need_date=date(2027, 5, 3),
        data=prepare_starter(organisation=organisation, user=user, starter=starter_named(slug)),
    )


@pytest.fixture
def house(organisation, user):
    return stored(organisation, user, "12-ft-house")


@pytest.fixture
def open_page(chromium, live_server, signed_in):
    contexts = []

    def opened(**options):
        context = chromium.new_context(
            base_url=live_server.url, reduced_motion="reduce", **({"viewport": PHONE} | options)
        )
        contexts.append(context)
        cookie = signed_in.cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        return context.new_page()

    yield opened
    for context in contexts:
        context.close()


def edit(house: House) -> str:
    return reverse("sites:house-edit", args=[house.slug])


def facts(page, text: str):
    page.locator("[data-facts]").filter(has_text=text).wait_for(timeout=20_000)


def test_the_drawing_follows_and_the_field_lights_its_dimension(open_page, house):
    page = open_page()
    page.goto(edit(house))
    facts(page, "13 hoops, 26 sticks")
    page.locator("#id_length").fill("60")
    facts(page, "16 hoops, 32 sticks")
    lit = page.locator(".picture .lit")
    assert lit.count() == 1 and "length 60'" in lit.text_content()
    assert page.locator(".view.now").get_attribute("data-view") == "side" and lit.is_visible()
    page.locator("#id_post_span").focus()
    assert "post span 12'" in lit.text_content() and lit.is_visible()
    # A dimension that a small drawing has no room for is there while its field is filled in.
    page.locator("#part-ground-posts > summary").click()
    page.locator("#id_post_depth").focus()
    assert "in ground 2'" in lit.text_content() and lit.is_visible()
    page.locator("#id_post_depth").fill("18")
    page.locator(".picture .lit", has_text="in ground 1' 6").wait_for(timeout=20_000)
    assert "1'\u00a06\" in the ground" in page.locator("#part-ground-posts > summary").inner_text()
    house.refresh_from_db()
    assert house.length == Decimal("14630.4")


def test_what_cannot_be_built_is_told_at_its_field_and_the_last_drawing_stays(open_page, house):
    page = open_page()
    page.goto(edit(house))
    before = page.locator("[data-views]").text_content()
    page.locator("#id_post_span").fill("40")
    facts(page, "Not drawn yet.")
    assert page.locator("[data-views]").text_content() == before
    told = page.locator(".field.wrong .errors")
    field = page.locator(".field.wrong").first.locator("input, select")
    assert told.first.inner_text() and field.get_attribute("aria-invalid") == "true"
    assert told.first.get_attribute("id") in field.get_attribute("aria-describedby")
    # A part that is folded says so in its line, and stays folded.
    page.locator("#id_post_span").fill("12")
    page.locator("#id_front_door_count").fill("4")
    line = page.locator("[data-part-line=end-walls-and-doors]").filter(has_text="to correct: ")
    line.wait_for(timeout=20_000)
    assert not page.locator("#part-end-walls-and-doors").evaluate("part => part.open")
    page.locator("#id_front_door_count").fill("1")
    facts(page, "13 hoops")
    assert told.count() == 0 and page.locator("[aria-invalid]").count() == 0


def test_an_older_answer_is_dropped(open_page, house):
    """The first question is held back until the second has been answered."""
    page = open_page()
    held = []

    def hold_the_first(route):
        if not held:
            held.append(route)
        else:
            route.continue_()

    page.route("**/draw/", hold_the_first)
    # Without this the browser itself would drop the first, and the page would not be asked to.
    page.add_init_script("AbortController.prototype.abort = function () {};")
    page.goto(edit(house))
    page.locator("#id_length").fill("24")
    comes(page, lambda: held)
    page.locator("#id_length").fill("60")
    facts(page, "16 hoops, 32 sticks")
    with page.expect_response("**/draw/"):
        held[0].continue_()
    # Had the answer taken the place of the later one, then before this one came.
    page.evaluate("fetch(location.href).then((answer) => answer.text())")
    assert "16 hoops, 32 sticks" in page.locator("[data-facts]").inner_text()


def test_without_an_answer_what_was_typed_stays_and_is_saved(open_page, house):
    page = open_page()
    page.route("**/draw/", lambda route: route.abort())
    page.goto(edit(house))
    page.locator("#id_length").fill("60")
    facts(page, "The drawing is not up to date")
    page.get_by_role("button", name="Save the house").click()
    page.wait_for_url(f"**{house.get_absolute_url()}")
    house.refresh_from_db()
    assert house.length == Decimal("18288")


@pytest.mark.parametrize("script", [True, False])
def test_a_refused_form_opens_its_part_and_goes_to_the_field(open_page, house, script):
    page = open_page(java_script_enabled=script)
    page.goto(edit(house))
    page.locator("#part-corner-braces > summary").click()
    page.locator("#id_brace_length").fill("tall")
    page.get_by_role("button", name="Save the house").click()
    page.locator(".error-summary").wait_for()
    field = page.locator("#id_brace_length")
    assert field.is_visible() and field.input_value() == "tall"
    assert page.locator("details[open]").count() == 1
    if script:
        assert field.evaluate("field => field === document.activeElement")
    field.fill('72"')
    field.press("Enter")
    page.wait_for_url(f"**{house.get_absolute_url()}")


@pytest.mark.parametrize("slug", ["low-tunnel-3-4", "12-ft-house"])
def test_drawing_and_save_stay_in_view_and_cover_no_field_by_keys_alone(open_page, organisation, user, slug):
    page = open_page()
    page.goto(edit(stored(organisation, user, slug)))
    assert page.evaluate("document.documentElement.scrollHeight") <= 5 * PHONE["height"]
    page.locator("#id_name").focus()
    passed = []
    for _ in range(60):
        at = page.evaluate(FOCUSED)
        assert at["clear"], f"{at} lies under something"
        drawing, save = page.locator(".picture").bounding_box(), page.locator("#house .reach").bounding_box()
        assert 0 <= drawing["y"] < PHONE["height"] and drawing["height"] == 180
        assert save["y"] + save["height"] <= PHONE["height"] + 1
        if at["name"] == "Save the house":
            break
        assert at["top"] >= drawing["y"] + drawing["height"] - 1 or at["bottom"] <= drawing["y"]
        passed.append(at["name"])
        page.keyboard.press("Tab")
    assert passed[0] == "name" and any("Ground posts" in name for name in passed) and at["name"] == "Save the house"


def test_the_form_and_the_starters_are_for_everyone(open_page, house):
    page = open_page()
    problems = []
    for address in (edit(house), reverse("sites:house-new")):
        page.goto(address)
        for part in page.locator("details.part").all()[:3]:
            part.evaluate("part => part.open = true")
        problems += problems_of(page, keep=f"house-form-{address.strip('/').replace('/', '-')}")
    assert problems == []


def test_a_house_begins_with_one_press_on_its_drawing(open_page, organisation, house):
    page = open_page(java_script_enabled=False)
    page.goto(reverse("sites:house-new"))
    drawing = page.locator(".starter", has_text="6 ft low tunnel, 1/2 in conduit").locator("svg")
    drawing.scroll_into_view_if_needed()
    box = drawing.bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_url("**/houses/new/low-tunnel-1-2/**")
    assert page.locator(".view svg").first.is_visible()
    assert "17 hoops, 17 sticks" in page.locator("[data-facts]").inner_text()
