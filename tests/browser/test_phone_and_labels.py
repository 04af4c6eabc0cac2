"""A phone in a gloved hand at a rack: targets, reach of the thumb, steps; and labels as pixels, read back."""

from __future__ import annotations

import io
import re

import pytest
from PIL import Image

from farmbuild.stock.counts import services
from farmbuild.stock.models import CountLine, Lot, Movement, StockCount
from tests.browser.reading import OUT, problems_of, spill
from tests.factories import LotFactory
from tests.stock.qr_reader import modules_of_pixels, read_modules

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Least height of what is pressed, CSS px, and of what is pressed most.
TOUCH, LARGE = 48, 64
#: A common phone, CSS px.
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def phone(page_at):
    page = page_at(PHONE["width"], has_touch=True, is_mobile=True)
    page.set_viewport_size(PHONE)
    return page


def boxes(page, selector):
    found = page.locator(selector)
    return [found.nth(n).bounding_box() for n in range(found.count()) if found.nth(n).is_visible()]


def test_what_is_done_with_a_lot_is_under_the_thumb(phone):
    phone.goto("/l/RACK-1/")
    assert spill(phone) <= 0
    targets = boxes(phone, ".hand :is(a, button)")
    assert len(targets) == 6
    assert min(box["height"] for box in targets) >= LARGE
    assert min(box["width"] for box in targets) >= TOUCH * 2
    # All of them in the lower half of the screen, with nothing to scroll.
    assert min(box["y"] for box in targets) >= PHONE["height"] / 2
    assert max(box["y"] + box["height"] for box in targets) <= PHONE["height"]
    lower = sorted(targets, key=lambda box: box["y"])
    assert all(above["y"] + above["height"] <= below["y"] for above, below in zip(lower[:2], lower[2:4], strict=True))
    words = phone.locator("h1, .answer").all()
    assert all(word.bounding_box()["y"] < targets[0]["y"] for word in words)
    phone.screenshot(path=OUT / "phone_lot.png")


@pytest.mark.parametrize("what", ["issue", "cut", "receive"])
def test_a_form_on_the_phone_is_sent_with_the_thumb(phone, demo, what):
    lot = Lot.objects.get(organisation=demo.organisation, reference="RACK-1")
    phone.goto(f"/stock/lots/{lot.pk}/{what}/")
    assert spill(phone) <= 0
    [send] = boxes(phone, ".thumb button")
    assert send["height"] >= LARGE
    assert send["width"] >= PHONE["width"] * 0.8
    assert send["y"] >= PHONE["height"] * 2 / 3
    assert send["y"] + send["height"] <= PHONE["height"]
    steps = boxes(phone, ".step button")
    assert len(steps) == 2
    assert min(min(box["height"], box["width"]) for box in steps) >= TOUCH
    fields = boxes(phone, "main form input:not([type=checkbox], [type=hidden]), main form select")
    # The box of a length stands in a frame with its unit; 44 px inside the frame's border.
    assert min(box["height"] for box in fields) >= 44
    phone.screenshot(path=OUT / f"phone_{what}.png")


def test_pieces_are_issued_with_four_touches(phone, demo):
    rack = Lot.objects.get(organisation=demo.organisation, reference="RACK-1")
    lot = LotFactory(material=rack.material, place=rack.place, reference="FREE-1", on_hand=20)
    phone.goto("/l/FREE-1/")
    phone.get_by_role("button", name="Issue").tap()
    phone.get_by_role("button", name="One more").tap()
    phone.get_by_role("button", name="One more").tap()
    phone.get_by_label("Why").fill("gate")
    phone.get_by_role("button", name="Issue", exact=True).tap()
    # Back at the label, where the issue can be put back in one tap.
    phone.wait_for_url("**/l/FREE-1/")
    phone.get_by_role("button", name="Return 2").wait_for()
    lot.refresh_from_db()
    assert lot.on_hand == 18
    assert lot.movements.order_by("pk").last().kind == Movement.Kind.ISSUE


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_what_is_taken_is_tapped_on_the_pile(page_at, demo, script):
    rack = Lot.objects.get(organisation=demo.organisation, reference="RACK-1")
    lot = LotFactory(material=rack.material, place=rack.place, reference="PILE-1", on_hand=38)
    phone = page_at(320, has_touch=True, is_mobile=True, java_script_enabled=script)
    phone.goto("/l/PILE-1/")
    if script:
        assert spill(phone) <= 0
    circles = phone.locator(".tap")
    assert circles.count() == 38
    assert min(min(box["width"], box["height"]) for box in boxes(phone, ".tap")) >= 44
    for at in (0, 1, 2, 2):
        circles.nth(at).tap()
    # Tapped twice is not taken; nothing is issued by a tap.
    assert phone.get_by_role("checkbox", name="stick 1", exact=True).is_checked()
    assert not phone.get_by_role("checkbox", name="stick 3", exact=True).is_checked()
    if script:
        phone.get_by_role("button", name="All five from stick 6").tap()
        assert phone.locator("[data-tapped]").text_content() == "7 of 38 sticks tapped."
    counted = 7 if script else 2
    phone.get_by_role("button", name="Issue").tap()
    box = phone.locator("input[name=quantity]")
    assert box.input_value() == str(counted)
    lot.refresh_from_db()
    assert lot.on_hand == 38
    phone.get_by_label("Why").fill("gate")
    phone.locator(".thumb button").tap()
    phone.wait_for_url("**/l/PILE-1/")
    lot.refresh_from_db()
    assert lot.on_hand == 38 - counted


def test_a_place_is_counted_on_the_phone(phone, demo):
    count = StockCount.objects.get(organisation=demo.organisation)
    line = CountLine.objects.get(count=count, lot__reference="RACK-1")
    phone.goto(f"/stock/counts/{count.number}/places/{line.place_id}/")
    assert spill(phone) <= 0
    assert min(min(box["height"], box["width"]) for box in boxes(phone, ".step button, .step input")) >= TOUCH
    [send] = boxes(phone, ".thumb button")
    assert send["height"] >= LARGE
    assert send["y"] + send["height"] <= PHONE["height"]
    box = phone.get_by_label("RACK-1", exact=False).and_(phone.locator("input"))
    box.fill("36")
    phone.get_by_role("button", name="One more, RACK-1").tap()
    phone.get_by_role("button", name="Save Barn rack").tap()
    phone.get_by_text("1 lot of Barn rack entered.").wait_for()
    line.refresh_from_db()
    assert (line.counted, line.times) == (37, 1)
    # Nothing else was entered, though other boxes were filled when the page came.
    assert CountLine.objects.filter(count=count, times__gt=1).count() == 0


def test_pages_of_counts_and_labels_have_no_serious_finding(page_at, demo):
    count = StockCount.objects.get(organisation=demo.organisation)
    line = CountLine.objects.filter(count=count, counted__isnull=False).first()
    lot = Lot.objects.get(organisation=demo.organisation, reference="RACK-1")
    services.request_recount(organisation=demo.organisation, user=demo.user, count=count, lines=[line.pk])
    counts = f"/stock/counts/{count.number}"
    problems: list[str] = []
    page = page_at(1440)
    page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
    for path in (
        "/stock/counts/",
        "/stock/counts/start/",
        f"{counts}/",
        f"{counts}/places/{line.place_id}/",
        f"{counts}/places/{line.place_id}/found/",
        f"{counts}/lines/{line.pk}/",
        f"{counts}/review/",
        f"{counts}/sheets/",
        f"{counts}/import/",
        f"{counts}/cancel/",
        f"/stock/labels/?place={lot.place_id}",
        "/l/RACK-1/",
        f"/stock/lots/{lot.pk}/receive/",
    ):
        assert page.goto(path).status == 200, path
        problems += problems_of(page)
    assert not problems, "\n".join(problems)


@pytest.mark.parametrize("size", ["letter-2x5", "letter-3x8", "a4-2x3"])
def test_a_printed_label_reads_back(page_at, demo, live_server, size):
    """From pixels as printed: the code, its quiet zone, and one module at least 0.5 mm (common practice, no source)."""
    lot = Lot.objects.get(organisation=demo.organisation, reference="RACK-1")
    page = page_at(820, device_scale_factor=3)
    page.goto(f"/stock/labels/?lot={lot.pk}&size={size}")
    page.emulate_media(media="print")
    code = page.locator(".code-box")
    box = code.bounding_box()
    modules, quiet = modules_of_pixels(Image.open(io.BytesIO(code.screenshot())))
    text, level = read_modules(modules)
    assert text == f"{live_server.url}/of/{demo.organisation.slug}/l/RACK-1/"
    assert level == "M"
    assert quiet >= 3.9
    # 96 CSS px are an inch.
    assert box["width"] / 96 * 25.4 / (len(modules) + 8) >= 0.5
    label = page.locator(".label").bounding_box()
    assert label["y"] <= box["y"]
    assert box["y"] + box["height"] <= label["y"] + label["height"] + 0.5


@pytest.mark.parametrize(("size", "wide", "high"), [("letter-3x8", 8.5, 11), ("a4-2x5", 210 / 25.4, 297 / 25.4)])
def test_labels_are_printed_on_their_paper(page_at, demo, size, wide, high):
    lot = Lot.objects.get(organisation=demo.organisation, reference="RACK-1")
    page = page_at(820)
    page.goto(f"/stock/labels/?place={lot.place_id}&size={size}")
    pdf = page.pdf(prefer_css_page_size=True)
    sizes = media_boxes(pdf)
    assert len(sizes) == 1
    assert sizes[0] == pytest.approx((wide * 72, high * 72), abs=1)


def media_boxes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of every page in points (ISO 32000-1, 7.7.3.3)."""
    found = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", pdf)
    return [(float(width), float(height)) for width, height in found]
