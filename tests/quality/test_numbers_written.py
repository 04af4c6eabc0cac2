"""Numbers are written by the style in force, everywhere: none can be read a thousand times too large or too small."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Iterator
from decimal import Decimal
from html import unescape
from shutil import which

import openpyxl
import pytest
from django.utils.html import strip_tags

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.hoops.models import Bender, Recipe
from farmbuild.stock.models import Lot
from tests.upgrades.addresses import addresses

#: A comma or a point between digits, by organisation: what must not stand on a page of it.
WRONG = {
    # Thousands by a comma, decimals by one, and three of them, which somebody else takes for thousands.
    ".": re.compile(r"\d,\d|(?<![\d.])[1-9]\d{0,2}\.\d{3}(?!\d)"),
    ",": re.compile(r"\d\.\d|(?<![\d,])[1-9]\d{0,2},\d{3}(?!\d)"),
}
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


@pytest.fixture
def demo_with(db, monkeypatch):
    def load(sign: str):
        from farmbuild.demo import services

        enter = services.create_organisation
        own = {"unit_system": "metric", "currency": "EUR", "decimal_sign": sign}
        monkeypatch.setattr(services, "create_organisation", lambda **given: enter(**given | own))
        # The invented season of the demo names materials of that catalogue.
        add = services.add_starting_catalogue
        monkeypatch.setattr(services, "add_starting_catalogue", lambda **given: add(**given | {"units": "imperial"}))
        demo = services.load_demo()
        _large(demo)
        return demo

    return load


def _large(demo) -> None:
    """Counts and prices that have thousands and four decimals."""
    lot = Lot.objects.filter(organisation=demo.organisation).order_by("pk").last()
    Lot.objects.filter(pk=lot.pk).update(unit_cost=Decimal("1234.5678"))
    step = PriceBreak.objects.filter(offer__organisation=demo.organisation, from_quantity__gt=1).order_by("pk").first()
    PriceBreak.objects.filter(pk=step.pk).update(from_quantity=12345)


def typed() -> list[str]:
    """What people called things: it stays as they typed it."""
    names = {
        getattr(row, name)
        for model, fields in (
            (Material, ("name", "code", "note", "yield_source")),
            (Supplier, ("name", "code")),
            (Offer, ("supplier_code",)),
            (Recipe, ("name", "slug")),
            (Bender, ("name", "slug")),
        )
        for row in model.objects.all()
        for name in fields
    }
    return sorted(names - {""}, key=len, reverse=True)


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


def texts_of(answer) -> Iterator[str]:
    """What a page or file says, part by part."""
    kind = answer["Content-Type"].partition(";")[0]
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    if kind == "text/html":
        yield said_on(body.decode())
    elif "spreadsheetml" in kind:
        book = openpyxl.load_workbook(io.BytesIO(body))
        for sheet in book:
            for row in sheet.iter_rows():
                yield from (f"{sheet.title}!{cell.coordinate} {cell.value}" for cell in row if cell.data_type == "s")
    elif kind == "application/pdf" and which("pdftotext"):
        yield subprocess.run(
            ["pdftotext", "-layout", "-", "-"], input=body, capture_output=True, check=True
        ).stdout.decode()
    elif kind == "text/calendar":
        lines = body.decode().replace("\r\n ", "").splitlines()
        yield from (line for line in lines if line.startswith(("SUMMARY", "DESCRIPTION", "LOCATION")))


@pytest.mark.parametrize("sign", [".", ","], ids=["point", "comma"])
def test_no_page_or_file_has_a_number_that_could_be_another(demo_with, client, sign):
    demo = demo_with(sign)
    client.force_login(demo.user)
    own, found, seen, drawings = typed(), [], {}, set()
    for _, paths in list(addresses()):
        for path in paths:
            answer = client.get(path)
            if answer.status_code != 200:
                continue
            kind = answer["Content-Type"].partition(";")[0]
            seen[kind] = seen.get(kind, 0) + 1
            if kind == "text/html":
                html = answer.content.decode()
                drawings |= set(re.findall(r"<path [^>]*>|<line [^>]*>", html))
                assert not unreadable_places(html), path
            for text in texts_of(answer):
                for name in own:
                    text = text.replace(name, "…")
                for words in STAYS:
                    text = re.sub(words, "…", text)
                found += [
                    f"{path}: …{' '.join(text[max(0, m.start() - 60) : m.end() + 30].split())}…"
                    for m in WRONG[sign].finditer(text)
                ]
    assert seen.pop("text/html") > 200 and len(drawings) > 100
    assert len(seen) >= 4, seen
    assert not found, "\n".join(found)
