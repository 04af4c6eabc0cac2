"""Numbers are written by the style in force, everywhere: none can be read a thousand times too large or too small."""

from __future__ import annotations

import io
import re
import subprocess
from collections import Counter
from collections.abc import Iterator
from html import unescape
from shutil import which

import openpyxl
import pytest
from django.utils.html import strip_tags

from tests.size import LONG
from tests.walks import Answer

#: A comma or a point between digits, by units and decimal sign: what must not stand on a page of that organisation.
WRONG = {
    # Decimals by a comma. Thousands have one in feet, and sizes of pipe in inches three decimals, as in the trade.
    ("imperial", "."): re.compile(r"\d,(?!\d{3}(?!\d))\d"),
    # Decimals by a point, and thousands or three decimals by a comma, which somebody takes for the other.
    ("metric", ","): re.compile(r"\d\.\d|(?<![\d,])[1-9]\d{0,2},\d{3}(?!\d)"),
}
if LONG:
    WRONG["metric", "."] = re.compile(r"\d,\d|(?<![\d.])[1-9]\d{0,2}\.\d{3}(?!\d)")
#: Words and figures that stay, each with the reason.
STAYS = (
    # Names of files and addresses.
    r"[\w-]+\.(?:xlsx|csv|ics|pdf|json)\b",
    r"https?://\S+",
    # Days as a file may have them.
    r"\b\d\d\.\d\d\.\d{4}\b",
    # Both signs, to choose from.
    r"A point: 1234\.56|A comma: 1234,56",
    # Names of shipped houses.
    r"tube \d+ × \d\.\d mm",
)
#: Attributes that are read aloud or shown.
SAID = re.compile(r'\b(?:aria-label|aria-description|title|alt|placeholder|data-label|summary)="([^"]*)"')


def said_on(html: str) -> str:
    """The words of a page, and those that are read aloud; drawings say theirs in text, not in coordinates."""
    html = re.sub(r"<(script|style)\b.*?</\1>", "", html, flags=re.S)
    html = re.sub(r"<textarea\b.*?</textarea>", "", html, flags=re.S)
    aloud = " | ".join(SAID.findall(html))
    return unescape(strip_tags(re.sub(r"(?=<)", " ", html)) + " | " + aloud)


#: What programs read in a page: places and sizes in drawings, and style sheets.
PLACE = re.compile(r'\b([xyr]|[xy][12]|c[xy]|d|points|viewBox|width|height|transform|stroke-\w+|font-size)="([^"]*)"')
#: Where a comma stands between two numbers.
LISTS = {"d", "points", "transform"}
PARTS = re.compile(r"[\sA-Za-z()%]+")


def unreadable_places(html: str) -> list[str]:
    """Coordinates and sizes that are no numbers to a browser."""
    found = [style for style in re.findall(r'style="([^"]*)"', html) if re.search(r"\d,\d", style)]
    for drawing in re.findall(r"<svg\b.*?</svg>", html, re.S):
        for name, said in PLACE.findall(drawing):
            parts = [part for part in PARTS.split(said.replace(",", " ") if name in LISTS else said) if part]
            found += [f"{name} {said}" for part in parts if not re.fullmatch(r"-?\d+(?:\.\d+)?", part)]
    return found


def texts_of(answer: Answer) -> Iterator[str]:
    """What a page or file says, part by part."""
    if answer.kind == "text/html":
        yield said_on(answer.page)
    elif "spreadsheetml" in answer.kind:
        book = openpyxl.load_workbook(io.BytesIO(answer.body))
        for sheet in book:
            for row in sheet.iter_rows():
                yield from (f"{sheet.title}!{cell.coordinate} {cell.value}" for cell in row if cell.data_type == "s")
    elif answer.kind == "application/pdf" and which("pdftotext"):
        yield subprocess.run(
            ["pdftotext", "-layout", "-", "-"], input=answer.body, capture_output=True, check=True
        ).stdout.decode()
    elif answer.kind == "text/calendar":
        lines = answer.body.decode().replace("\r\n ", "").splitlines()
        yield from (line for line in lines if line.startswith(("SUMMARY", "DESCRIPTION", "LOCATION")))


@pytest.mark.django_db
@pytest.mark.parametrize(("units", "sign"), WRONG)
def test_no_page_or_file_has_a_number_that_could_be_another(walked, units, sign):
    walk = walked(units, sign)
    found, seen, drawings = [], Counter(), set()
    answers = walk.linked | {path: answer for named in walk.named.values() for path, answer in named.items()}
    for path, answer in answers.items():
        if answer.status != 200:
            continue
        seen[answer.kind] += 1
        drawings |= set(re.findall(r"<path [^>]*>|<line [^>]*>", answer.page))
        assert not unreadable_places(answer.page), path
        for text in texts_of(answer):
            for name in walk.typed:
                text = text.replace(name, "…")
            for words in STAYS:
                text = re.sub(words, "…", text)
            found += [
                f"{path}: …{' '.join(text[max(0, m.start() - 60) : m.end() + 30].split())}…"
                for m in WRONG[units, sign].finditer(text)
            ]
    assert seen.pop("text/html") > 200 and len(drawings) > 100
    assert len(seen) >= 4, seen
    assert not found, "\n".join(found)
