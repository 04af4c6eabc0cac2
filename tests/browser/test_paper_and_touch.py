"""What a sheet of paper has to say by itself, and targets for a gloved finger."""

from __future__ import annotations

import re

import pytest

from tests.browser.reading import spill

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Least height of a target, CSS px.
TOUCH = 44


def test_a_printed_take_off_says_how_each_row_was_worked_out(page_at):
    page = page_at(820)
    page.goto("/houses/north-field-1/takeoff/")
    workings = page.locator("table .working p")
    assert not workings.first.is_visible()
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    said = " ".join(page.locator("table").all_inner_texts())
    assert workings.count() > 20
    assert all(workings.nth(n).is_visible() for n in range(workings.count()))
    assert "13 x 2 = 26" in said
    assert "4 board rows x 13 hoops" in said
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.locator("table .working[open]").count() == 0


def test_a_row_of_a_take_off_is_two_lines_on_a_phone_and_opens_to_its_working_anywhere(page_at):
    page = page_at(390)
    page.goto("/houses/north-field-1/takeoff/")
    rows = page.locator(".lit-part tbody tr")
    heights = [row.bounding_box()["height"] for row in rows.all()]
    assert len(heights) > 30
    assert min(heights) >= 48
    # A name that is too long for its line takes a third, and is the rare one.
    assert sum(height > 65 for height in heights) <= 3
    assert max(heights) <= 90
    assert not rows.first.locator(".working p").is_visible()
    # On its name, far from the sign at its end.
    rows.first.click(position={"x": 20, "y": 15})
    assert rows.first.locator(".working p").is_visible()


def test_a_printed_cut_plan_has_every_drawing_and_the_screen_those_of_one_page(page_at):
    page = page_at(820)
    page.goto("/plans/1/cutting/?page=2")
    bundles, headings = page.locator("section.cut-strip"), page.locator("main h2")
    whole = int(re.search(r"Strips 13 to 24 of (\d+)", page.locator("nav.pages").first.inner_text())[1])
    assert bundles.count() == whole > 24
    assert sum(bundle.is_visible() for bundle in bundles.all()) == 12
    page.emulate_media(media="print")
    assert sum(bundle.is_visible() for bundle in bundles.all()) == whole
    assert not page.locator("nav.pages").first.is_visible()
    shown = [heading.inner_text() for heading in headings.all() if heading.is_visible()]
    assert len(shown) == len(set(shown))


def test_links_and_ticks_of_a_plan_are_large_enough_on_a_phone(page_at):
    page = page_at(390)
    page.goto("/plans/1/")
    links = page.locator(".parts a, .files a")
    assert links.count() >= 8
    assert min(links.nth(n).bounding_box()["height"] for n in range(links.count())) >= TOUCH
    page.goto("/plans/1/cutting/")
    tick = page.locator(".saw-ticks input").first.bounding_box()
    assert tick["height"] >= 36


@pytest.mark.parametrize("width", [320, 390])
def test_the_places_stand_in_one_line_on_a_phone_and_grow_with_the_text(page_at, width):
    page = page_at(width)
    page.goto("/crew/people/")
    places = page.locator(".places a")
    assert places.all_inner_texts() == ["Houses", "Hoops", "Stock", "Orders", "Crew"]
    boxes = [place.bounding_box() for place in places.all()]
    assert len({box["y"] for box in boxes}) == 1
    assert min(box["height"] for box in boxes) >= TOUCH and min(box["width"] for box in boxes) >= TOUCH
    assert page.locator(".bar").bounding_box()["height"] < 60
    small = places.first.evaluate("link => parseFloat(getComputedStyle(link).fontSize)")
    # Twice the size of the text, as a reader sets it: more lines, but nothing is lost to the side.
    page.evaluate("document.documentElement.style.fontSize = '225%'")
    assert places.first.evaluate("link => parseFloat(getComputedStyle(link).fontSize)") == pytest.approx(2 * small)
    assert spill(page) <= 1
    assert all(place.bounding_box()["x"] >= 0 for place in places.all())


def test_the_way_out_is_at_the_foot_of_a_phone_and_at_the_head_of_a_wide_page(page_at):
    page = page_at(390)
    page.goto("/crew/people/")
    out = page.get_by_role("button", name="Sign out")
    assert out.count() == 1
    assert out.bounding_box()["y"] > page.locator("main").bounding_box()["height"]
    page.set_viewport_size({"width": 1440, "height": 900})
    assert out.count() == 1
    assert out.bounding_box()["y"] < 60


@pytest.mark.parametrize("address", ["/crew/hours/1/", "/crew/wind/limits/", "/crew/people/new/", "/crew/wind/"])
def test_paper_has_no_buttons_and_no_bar_and_says_on_each_sheet_what_it_is(page_at, address):
    from farmbuild.crew.models import WorkWeek

    page = page_at(820)
    page.goto(address.replace("/1/", f"/{WorkWeek.objects.first().pk}/"))
    page.emulate_media(media="print")
    for kind in ("main button", "main a.action", ".bar", ".at-foot", ".crumbs", "main nav"):
        for found in page.locator(kind).all():
            assert not found.is_visible(), (kind, found.inner_text())
    said = page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--sheet-name')")
    assert said.strip('"') == page.title()
