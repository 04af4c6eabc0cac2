"""The PDF: paper, words that are embedded, and lengths measured from its lines against the scale that is stated."""

from __future__ import annotations

import math
import re
import shutil
import subprocess

import pytest

from farmbuild.drawings.pdf import set_pdf
from farmbuild.drawings.presenters import sheets_for
from farmbuild.drawings.scales import PAPERS, paper_for, scale_for, scale_text
from farmbuild.sites.bridge import shape_of
from tests.drawings.making import house_of, set_of

POINT = 25.4 / 72
#: mm of paper: what a drawn line may be off.
NEAR = 0.01


def asked(*command: object) -> str:
    return subprocess.run([str(part) for part in command], check=True, capture_output=True, text=True).stdout


@pytest.fixture
def stored(tmp_path):
    def store(found):
        path = tmp_path / "set.pdf"
        path.write_bytes(set_pdf(found))
        return path

    return store


def words_of(path) -> str:
    return asked("pdftotext", "-layout", path, "-")


def lines_of(path, page: int) -> list[tuple[float, float, float, float]]:
    """Straight strokes of a page, mm of paper from its upper left corner."""
    svg = asked("pdftocairo", "-svg", "-noshrink", "-nocenter", "-f", page, "-l", page, path, "-")
    found = []
    for path_d, matrix in re.findall(r'<path [^>]*?d="([^"]*)"[^>]*?transform="matrix\(([^)]*)\)"', svg):
        a, b, c, d, e, f = map(float, matrix.replace(",", " ").split())
        numbers = re.findall(r"([MLHVCZ])([^MLHVCZ]*)", path_d)
        at = None
        for kind, rest in numbers:
            values = [float(value) for value in rest.split()]
            if kind in "ML":
                x, y = (a * values[0] + c * values[1] + e) * POINT, (b * values[0] + d * values[1] + f) * POINT
                if kind == "L":
                    found.append((*at, x, y))
                at = (x, y)
            elif kind == "C":
                at = (
                    (a * values[4] + c * values[5] + e) * POINT,
                    (b * values[4] + d * values[5] + f) * POINT,
                )
    return found


def has_line(lines, wanted: float, *, level: bool) -> bool:
    return any(
        abs(math.hypot(x2 - x1, y2 - y1) - wanted) < NEAR and (abs(y2 - y1) < NEAR) is level for x1, y1, x2, y2 in lines
    )


@pytest.mark.parametrize(
    ("units", "paper", "size"),
    [
        ("imperial", "", (431.8, 279.4)),
        ("imperial", "a3", (420.0, 297.0)),
        ("metric", "", (420.0, 297.0)),
        ("metric", "ansi-b", (431.8, 279.4)),
        ("metric", "letterhead", (420.0, 297.0)),
    ],
)
def test_paper_sheets_and_words(user, in_units, stored, units, paper, size):
    in_units(units)
    found = set_of(house_of(user, "12-ft-house" if units == "imperial" else "5-m-house"), paper)
    path = stored(found)
    told = asked("pdfinfo", path)
    assert int(re.search(r"Pages:\s+(\d+)", told)[1]) == len(found.sheets)
    wide, high = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", told).groups()
    assert (float(wide) * POINT, float(high) * POINT) == pytest.approx(size, abs=0.01)
    # Every letter is in the file itself.
    fonts = asked("pdffonts", path).splitlines()[2:]
    assert fonts and all(row.split()[-5] == "yes" for row in fonts)
    pages = words_of(path).split("\f")[:-1]
    for number, (page, sheet) in enumerate(zip(pages, found.sheets, strict=True), 1):
        assert f"{number} of {len(pages)}" in page
        assert sheet.title in page and sheet.scale in page
        assert "CAUTION: This is a plan, not a structural design." in " ".join(page.split())
        assert "Engineer's stamp" in page and "Tunnel field (invented)" in page


@pytest.mark.parametrize(("units", "starter"), [("imperial", "20-ft-house"), ("metric", "8-m-house")])
def test_lengths_on_paper_are_those_of_the_house_at_the_stated_scale(user, in_units, stored, units, starter):
    in_units(units)
    house = house_of(user, starter)
    found = set_of(house)
    path, shape = stored(found), shape_of(house)
    for number, sheet in enumerate(found.sheets, 1):
        for placed in sheet.views:
            assert scale_text(placed.scale, units) in words_of(path).split("\f")[number - 1]
    past = 2 * 1.5
    section, along = found.sheets[0].views[0].scale, found.sheets[1].views[0].scale
    lines = lines_of(path, 1)
    # A dimension line runs 1.5 mm past each end.
    assert has_line(lines, float(house.post_span) / section + past, level=True)
    assert has_line(lines, float(shape.ridge_height) / section + past, level=False)
    assert has_line(lines, float(house.post_length) / section, level=False)
    lines = lines_of(path, 2)
    assert has_line(lines, float(house.length) / along + past, level=True)
    xs = sorted({round(x1, 3) for x1, y1, x2, y2 in lines if abs(x1 - x2) < NEAR})
    first = next(x for x in xs if any(abs(other - x - float(house.length) / along) < NEAR for other in xs))
    for place in shape.hoop_positions:
        assert any(abs(x - first - float(place) / along) < NEAR for x in xs)
    assert not has_line(lines, float(house.length) / along + past + 1, level=True)


def test_the_same_set_is_the_same_file(user, organisation):
    house = house_of(user, "12-ft-house")
    assert set_pdf(set_of(house)) == set_pdf(set_of(house))


def test_the_version_follows_what_is_drawn(user, organisation, stored):
    house = house_of(user, "12-ft-house")
    before = words_of(stored(set_of(house)))
    house.post_length += 1
    after = words_of(stored(set_of(house)))
    version = re.compile(r"([0-9a-f]{8}), saved")
    assert set(version.findall(before)) != set(version.findall(after))
    assert len(set(version.findall(before))) == 1


@pytest.mark.parametrize(
    "name",
    [
        '#set "page" $x$ *bold*',
        "[content] <label> @ref // note",
        "\\u{41} ~ -- ' \" `raw`",
        "Теплица ΩΩ Łąka",
    ],
)
def test_names_are_words_never_layout(user, organisation, stored, name):
    found = set_of(house_of(user, "12-ft-house", name=name))
    path = stored(found)
    assert int(re.search(r"Pages:\s+(\d+)", asked("pdfinfo", path))[1]) == len(found.sheets)
    assert name.replace(" ", "") in "".join(words_of(path).split())


@pytest.mark.skipif(
    not shutil.which("fc-list") or not subprocess.run(["fc-list", ":lang=zh"], capture_output=True, check=True).stdout,
    reason="this machine has no Chinese letters",
)
def test_letters_that_only_the_machine_has(user, organisation, stored):
    found = set_of(house_of(user, "12-ft-house", name="温室七号"))
    assert "温室七号" in words_of(stored(found)) and found.borrowed_letters


def test_a_long_name_stays_whole_and_inside_its_box(user, organisation, stored):
    name = " ".join(["Northernmost", "Creekbottom", "Windbreak"] * 4)[:120].strip()
    found = set_of(house_of(user, "12-ft-house", name=name))
    box = asked("pdftotext", "-f", "1", "-l", "1", "-bbox", stored(found), "-")
    rows = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)"[^>]*>([^<]+)<', box)
    named = [(float(low), float(high)) for low, _, high, word in rows if word in name.split()]
    assert len(named) >= len(name.split())
    left = (found.paper.wide - 10 - 180) / POINT
    assert all(left <= low and high <= left + 110 / POINT for low, high in named)


def test_sheets_for_the_crew_and_for_a_supplier(user, organisation):
    found = set_of(house_of(user, "12-ft-house"))
    supplier, crew = sheets_for(found, "supplier"), sheets_for(found, "crew")
    assert {sheet.title for sheet in supplier.sheets} == {"List of parts"}
    assert len(supplier.sheets) + len(crew.sheets) == len(found.sheets)
    assert sheets_for(found, "nobody") is found


def test_scales_are_standard_and_fit():
    assert scale_for(19.9, "metric") == 20 and scale_for(20, "metric") == 20 and scale_for(20.1, "metric") == 25
    assert scale_for(20, "imperial") == 24 and scale_text(48, "imperial") == "1:48 (1/4\" = 1')"
    assert scale_text(50, "metric") == "1:50"
    assert {paper_for("imperial").name, paper_for("metric").name} == {paper.name for paper in PAPERS.values()}
