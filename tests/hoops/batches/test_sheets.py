"""Bending sheets: on the page, and as a PDF of one page that says the same."""

from __future__ import annotations

import re
import shutil
import subprocess
from decimal import Decimal
from html import unescape

import pytest

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.bending_sheet import batch_bending_sheet, recipe_bending_sheet
from farmbuild.hoops.batches.pdf import sheet_pdf
from farmbuild.hoops.batches.selectors import batches_of
from farmbuild.hoops.recipes.bridge import bend_recipe_of
from tests.conftest import NOTHING_MISSING
from tests.factories import FOOT, INCH, HouseFactory, MaterialFactory, RecipeFactory, SiteFactory
from tests.hoops.batches.making import make_bender

pytestmark = pytest.mark.django_db

poppler = pytest.mark.skipif(
    not shutil.which("pdftotext") and not NOTHING_MISSING, reason="needs pdftotext and pdfinfo: poppler-utils"
)


def read(tmp_path, data: bytes) -> tuple[int, str, tuple[float, float]]:
    """Pages, text and page size in points, as an independent reader finds them."""
    path = tmp_path / "sheet.pdf"
    path.write_bytes(data)

    def run(*command: str) -> str:
        return subprocess.run([*command], capture_output=True, text=True, check=True, timeout=60).stdout

    info = run("pdfinfo", str(path))
    size = re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", info)
    text = " ".join(run("pdftotext", "-layout", str(path), "-").split())
    return int(re.search(r"Pages:\s+(\d+)", info)[1]), text, (float(size[1]), float(size[2]))


def letters(tmp_path) -> dict[str, float]:
    """Height in points of the box of each word on the page."""
    path = tmp_path / "sheet.pdf"
    out = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True, timeout=60)
    found: dict[str, float] = {}
    for top, bottom, word in re.findall(r'yMin="([\d.]+)".*?yMax="([\d.]+)">(.*?)</word>', out.stdout):
        word = unescape(word)
        found[word] = max(found.get(word, 0.0), float(bottom) - float(top))
    return found


def pdf_of(batch) -> bytes:
    full = batches_of(organisation=batch.organisation).get(pk=batch.pk)
    return sheet_pdf(batch_bending_sheet(full), foot="Printed by nobody.")


@poppler
def test_one_page_that_says_what_to_do(shop, tmp_path):
    site = SiteFactory(organisation=shop.organisation)
    house = HouseFactory(site=site, recipe=shop.batch.recipe, name="North 1")
    batch = services.create_batch(
        **shop.who, recipe=shop.batch.recipe, bender=shop.batch.bender, quantity=13, shares={house: 13},
        data={"post_span": FOOT * 12, "spring_in": INCH * Decimal("13.5")},
    )  # fmt: skip
    pages, text, size = read(tmp_path, pdf_of(batch))
    assert pages == 1
    assert size == (612, 792)
    # Marks of a 10 ft stick: 9 in and every 17 in, 9 to 111 in.
    for own, other in (("9\"", "229"), ("2' 2\"", "660"), ("3' 7\"", "1 092"), ("5'", "1 524"), ("6' 5\"", "1 956"),
                       ("7' 10\"", "2 388"), ("9' 3\"", "2 819")):  # fmt: skip
        assert f"{own} {other} mm" in text.replace("\u202f", " ")
    for words in (
        "Bending sheet: Batch 2", "13 for North 1", "13' 1 1/2\"", "4\u202f001 mm",
        "The swaged end goes into the bender first",
        "against over-bending", "so that the stick does not twist", "slide a lever bar", "never on top",
        "Fix the bender high, at several points, or sideways on a bench", "Two people spring a hoop in, three sight",
        "until the ridge has been sighted", "Only when it is accepted bend the rest", "Trial hoop", "Hoops bent",
        "Caution: Pipe under spring load", "Name", "Date", "Printed by nobody.",
    ):  # fmt: skip
        assert all(word in text for word in words.split()), words


@poppler
def test_marks_are_read_at_arms_length(shop, tmp_path):
    """At 18 pt the box of a word is no less than 18 pt high."""
    read(tmp_path, pdf_of(shop.batch))
    heights = letters(tmp_path)
    assert all(heights[word] >= 18 for word in ("3'", "9'", "7'", '15/16"')), heights


@poppler
@pytest.mark.parametrize(
    "size",
    [
        {"sticks": 1, "insertion": 0, "radius": INCH * 36, "stick_length": FOOT * 10},
        {"sticks": 3, "radius": INCH * 131},
        {"sticks": 12, "radius": FOOT * 30, "stick_length": FOOT * 21},
        {"pitch": INCH * 6},
        {"pitch": INCH * 2},
        {"stick_length": FOOT * 21, "pitch": INCH * Decimal("8.3125"), "first_mark": INCH * Decimal("8.9375")},
        {"pitch": INCH * Decimal("0.5")},
        {"stick_length": FOOT * 21, "pitch": INCH * 12, "radius": FOOT * 10},
        {"sticks": 2, "radius": INCH * 30},
    ],
)
@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_any_sane_recipe_fits_one_page(organisation, tmp_path, size, units):
    organisation.unit_system = units
    organisation.save()
    tube = MaterialFactory(organisation=organisation, swaged=size.get("sticks", 2) > 1)
    recipe = RecipeFactory(
        organisation=organisation, tube=tube, **{"radius": INCH * 79, "stop_gap": INCH / 4} | size,
        name="A long name for a hoop that someone typed to the end of the line and somewhat further than that",
    )  # fmt: skip
    sheet = recipe_bending_sheet(recipe)
    pages, text, paper = read(tmp_path, sheet_pdf(sheet, foot="A farm. Printed 3 May 2027 by nobody."))
    assert pages == 1
    assert paper == ((612, 792) if units == "imperial" else (595.276, 841.89))
    assert "Name" in text
    if sheet.marks:
        assert sheet.marks[-1].own.split()[0] in text
    else:
        assert "marks:" in text


def boxes_of(tmp_path) -> list[tuple[str, float, float, float, float]]:
    """Words of the page with left, top, right and bottom in points."""
    out = subprocess.run(
        ["pdftotext", "-bbox", str(tmp_path / "sheet.pdf"), "-"], capture_output=True, text=True, check=True, timeout=60
    )
    found = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>', out.stdout)
    return [(unescape(word), *map(float, box)) for *box, word in found]


@poppler
@pytest.mark.parametrize("units", ["imperial", "metric"])
@pytest.mark.parametrize(
    ("size", "count"),
    [
        ({}, 7),
        ({"sticks": 1, "insertion": 0, "stick_length": FOOT * 10, "pitch": INCH * 48}, 3),
        ({"stick_length": FOOT * 21, "pitch": INCH * Decimal("8.1875"), "first_mark": INCH * Decimal("6.9375")}, 30),
    ],
)
def test_the_stick_on_paper_has_its_marks_numbered_to_scale_and_clear(organisation, tmp_path, size, count, units):
    organisation.unit_system = units
    organisation.save()
    tube = MaterialFactory(organisation=organisation, swaged=size.get("sticks", 2) > 1)
    recipe = RecipeFactory(organisation=organisation, tube=tube, **{"radius": INCH * 96, "stop_gap": INCH} | size)
    sheet = recipe_bending_sheet(recipe)
    assert len(sheet.marks) == count
    _, _, (wide, _) = read(tmp_path, sheet_pdf(sheet, foot="A farm."))
    words = boxes_of(tmp_path)
    large = [box for box in words if box[4] - box[2] >= 18]
    room, numbers = wide - 2 * 34, []
    for number, mark in enumerate(bend_recipe_of(recipe).marks, 1):
        at = 34 + float(mark / recipe.stick_length) * room
        there = [box for word, *box in large if word == str(number) and abs((box[0] + box[2]) / 2 - at) < 1]
        assert there, number
        numbers += there
    # Under the stick, each distance that has room stands at its mark.
    said = {text: (anchor, share) for anchor, share, _, text in sheet.stick.texts if not text.isdigit()}
    assert sheet.marks[0].own in said
    bottom = max(box[3] for box in numbers)
    under = [box for box in large if box[2] > bottom]
    assert {word for text in said for word in text.split()} <= {word for word, *_ in under}
    for at, (one, *a) in enumerate(large):
        for other, *b in large[at + 1 :]:
            across, down = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
            assert across < 0.5 or down < 0.4 * (a[3] - a[1]), (one, other)


@poppler
@pytest.mark.parametrize("quantity", [1, 60, 61, 10_000])
def test_a_box_for_each_hoop_or_a_line_for_strokes(shop, tmp_path, quantity):
    batch = services.create_batch(
        **shop.who, recipe=shop.batch.recipe, bender=shop.batch.bender, quantity=quantity, shares={},
        data={"post_span": FOOT * 12},
    )  # fmt: skip
    pages, text, _ = read(tmp_path, pdf_of(batch))
    assert pages == 1
    assert ("tick each" in text) is (quantity <= 60)
    assert (f"of {quantity:,}:" in text) is (quantity > 60)


@poppler
def test_the_fullest_batch_sheet_is_still_one_page(organisation, user, tmp_path):
    """Most marks that are listed, most boxes, many houses with long names, legs that are not pulled."""
    tube = MaterialFactory(organisation=organisation, name="A tube with a name that says all there is to say of it")
    recipe = RecipeFactory(
        organisation=organisation, tube=tube, name="A hoop " + "of many words " * 7, sticks=2, radius=FOOT * 8,
        stick_length=FOOT * 21, pitch=INCH * Decimal("8.1875"), first_mark=INCH * Decimal("6.9375"),
    )  # fmt: skip
    site = SiteFactory(organisation=organisation)
    houses = [HouseFactory(site=site, recipe=recipe, name=f"House {n} by the old orchard gate") for n in range(6)]
    batch = services.create_batch(
        organisation=organisation, user=user, recipe=recipe, bender=make_bender(organisation), quantity=60,
        shares=dict.fromkeys(houses, 10), data={"post_span": FOOT * 12, "spring_in": FOOT * 4},
    )  # fmt: skip
    sheet = batch_bending_sheet(batches_of(organisation=organisation).get(pk=batch.pk))
    assert len(sheet.marks) == 30
    assert any("Do not pull" in step for step in sheet.steps)
    pages, text, _ = read(tmp_path, sheet_pdf(sheet, foot="A farm with a long name. Printed 3 May 2027 by nobody."))
    assert pages == 1
    assert "2 houses more" in text


def test_the_same_sheet_is_the_same_to_the_byte(shop):
    assert pdf_of(shop.batch) == pdf_of(shop.batch)


@poppler
def test_what_is_typed_is_text_not_layout(shop, tmp_path):
    recipe = shop.batch.recipe
    recipe.name = '#panic() $x$ *bold* "quoted" \\ <svg> Новая дуга'
    recipe.save()
    pages, text, _ = read(tmp_path, sheet_pdf(recipe_bending_sheet(recipe), foot=""))
    assert pages == 1
    assert '#panic() $x$ *bold* "quoted" \\ <svg> Новая дуга' in text


def test_pages_and_files_of_both_kinds(signed_in, shop):
    for address in ("/hoops/batches/1/sheet/", "/hoops/hoop-12-ft/sheet/"):
        response = signed_in.get(address)
        sheet = response.context["sheet"]
        assert [mark.own for mark in sheet.marks] == ['9"', "2' 2\"", "3' 7\"", "5'", "6' 5\"", "7' 10\"", "9' 3\""]
        assert [mark.lever for mark in sheet.marks] == [False] * 5 + [True] * 2
        shown = response.content.decode()
        assert shown.count('span class="tick"') == 3 + sheet.boxes
        assert address.replace("sheet/", "sheet.pdf") in shown
    for address in ("/hoops/batches/1/sheet.pdf", "/hoops/hoop-12-ft/sheet.pdf"):
        response = signed_in.get(address)
        assert response["Content-Type"] == "application/pdf"
        assert response.content.startswith(b"%PDF-")


def test_the_sheet_has_the_corrected_gap(signed_in, shop):
    shop.issue(2)
    services.correct_gap(**shop.on, trial=shop.measure(INCH * 150))
    sheet = signed_in.get("/hoops/batches/1/sheet/").context["sheet"]
    assert {row.label: row.own for row in sheet.numbers}["Stop gap"] == '1 3/16"'


def test_a_recipe_that_makes_no_hoop_has_no_sheet(signed_in, shop):
    RecipeFactory(organisation=shop.organisation, slug="none", first_mark=FOOT * 11)
    assert signed_in.get("/hoops/none/sheet/").status_code == 404
    assert signed_in.get("/hoops/none/sheet.pdf").status_code == 404


@poppler
def test_why_a_hoop_outside_the_tolerance_is_good_stands_on_the_sheet(shop, tmp_path):
    shop.issue(2)
    trial = shop.measure(INCH * 160)
    pages, text, _ = read(tmp_path, pdf_of(shop.batch))
    assert pages == 1 and "outside the tolerance" not in text
    why = "The posts take up to 2 ft of spring-in, " * 5
    services.accept_trial(**shop.on, trial=trial, reason=why[:200])
    pages, text, _ = read(tmp_path, pdf_of(shop.batch))
    assert pages == 1
    assert "Trial hoop 1, under-bent, was accepted outside the tolerance by" in text
    assert '13\' 4", 2 1/2" more than wanted. Reason: The posts take up to 2 ft of spring-in' in text
