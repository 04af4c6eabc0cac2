"""PDF and workbook of what is offered; the same bytes for the same offer."""

from __future__ import annotations

import json
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

import typst

from farmbuild.common.paper import drawing_for_paper
from farmbuild.common.speaking import as_kept
from farmbuild.measure import UnitSystem, format_day
from farmbuild.quotes.bridge import Offered, OfferedOption
from farmbuild.quotes.sending.words import house_words, price_rows
from farmbuild.workbooks.services import quote_workbook

_LAYOUT = Path(__file__).with_name("quote.typ")
#: Letters up to here come with the program: Latin, Greek, Cyrillic.
_OWN_LETTERS = 0x52F
_SIGNS = range(0x2000, 0x2300)


class SentFiles(NamedTuple):
    pdf: bytes
    workbook: bytes
    sha256: str
    workbook_sha256: str


def files_of(offered: Offered) -> SentFiles:
    with as_kept():
        pdf, workbook = offer_pdf(offered), quote_workbook(offered)
    return SentFiles(pdf, workbook, sha256(pdf).hexdigest(), sha256(workbook).hexdigest())


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def offer_pdf(offered: Offered) -> bytes:
    """What is typed by people goes in as data, never as layout."""
    data = json.dumps(
        {
            "title": offered.title,
            "letter": offered.units == UnitSystem.IMPERIAL,
            "foot": f"{offered.title}, {offered.sender}",
            "job": offered.job,
            "sender": [offered.sender, *offered.where],
            "to": offered.to,
            "days": [["Of the day", format_day(offered.day)], ["Holds until", format_day(offered.valid_until)]],
            "note": [line for line in offered.note.splitlines() if line.strip()],
            "currency": offered.currency,
            "names": [option.name for option in offered.options],
            "prices": [[row.label, row.heavy, row.amounts] for row in price_rows(offered)],
            "exclusions": offered.exclusions,
            "cautions": offered.cautions,
            "options": [_option(option) for option in offered.options],
        },
        ensure_ascii=False,
    )
    own = all(ord(letter) <= _OWN_LETTERS or ord(letter) in _SIGNS for letter in data)
    return typst.compile(_layout(), format="pdf", sys_inputs={"offer": data}, ignore_system_fonts=own)


def _option(option: OfferedOption) -> dict[str, Any]:
    return {
        "name": option.name,
        "houses": [
            {
                "name": house_words(house),
                "facts": house.facts,
                "drawings": [drawing_for_paper(svg) | {"title": title} for title, svg in house.drawings],
            }
            for house in option.houses
        ],
        "included": option.included,
        "work": option.work,
    }
