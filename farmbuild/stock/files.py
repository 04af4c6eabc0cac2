"""The empty file to fill in with lots, as a workbook with notes and drop-downs and as plain text."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import date

from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.measure import BARE_MM_FROM, current_style
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import Site
from farmbuild.stock.bridge import is_imperial, units_of
from farmbuild.stock.import_rows import HEADINGS, REQUIRED
from farmbuild.stock.selectors import members_of, places_of
from farmbuild.workbooks import writing

SHEET = "Lots"
#: Rows that have drop-downs; more may be filled in.
_ROWS = 2000
_WIDTHS = {"material": 22, "place": 20, "site": 20, "supplier": 20, "reference": 16}


def _notes(organisation: Organisation) -> dict[str, str]:
    imperial = is_imperial(organisation)
    example = (
        "12', 7' 3 1/2\" or 93.5\"; a bare number is in feet"
        if imperial
        else f"2 m or 2380 mm; a bare number is in mm, below {BARE_MM_FROM} in m"
    )
    return {
        "material": "Short name or full name of one of your materials. The sheet Choices lists them.",
        "length": f"Length of one piece: {example}. Leave it empty for what is counted, such as screws.",
        "quantity": "How many pieces, a whole number of at least 1.",
        "place": "Where it lies. A new name makes a new place.",
        "site": "Which site a new place is at. May be left empty.",
        "cost": f"What one piece cost, in {organisation.currency}, with at most 4 decimals. May be left empty.",
        "supplier": "Short name or full name of one of your suppliers. May be left empty.",
        "received": "Day it came in, as a date, 2027-05-12 or 12.05.2027. Left empty it is today.",
        "reference": "Your own mark for the lot. Left empty the next number is given, such as L-0001.",
        "owner": "Name of the member whose own they are. Left empty they are yours.",
        "offcut": "yes where the piece is an offcut, its swaged end gone; else empty.",
    }


def heading(name: str) -> str:
    return HEADINGS[name][0] + (" *" if name in REQUIRED else "")


def csv_template() -> bytes:
    """Cells are parted as spreadsheets do where that is the decimal sign."""
    out = io.StringIO()
    csv.writer(out, delimiter=";" if current_style().decimal == "," else ",").writerow(
        [heading(name) for name in HEADINGS]
    )
    # The mark at the start tells spreadsheets that the text is UTF-8.
    return out.getvalue().encode("utf-8-sig")


def xlsx_template(*, organisation: Organisation, today: date) -> bytes:
    """Sheets: Lots to fill in, Notes, and Choices behind the drop-downs."""
    units = units_of(organisation)
    book = writing.Book(title="Lots for the stock list", author=organisation.name, stamp=today, units=units)
    notes = _notes(organisation)
    choices = {
        "material": list(materials_of(organisation=organisation).values_list("code", flat=True)),
        "place": list(places_of(organisation=organisation).values_list("name", flat=True)),
        "site": list(Site.objects.of(organisation).filter(archived_at=None).values_list("name", flat=True)),
        "supplier": list(suppliers_of(organisation=organisation).values_list("code", flat=True)),
        "offcut": ["yes", "no"],
        "owner": list(members_of(organisation=organisation).values_list("name", flat=True)),
    }
    looks = {"quantity": "#,##0", "cost": "0.00##", "received": writing.DATE}
    columns = [
        writing.Column(heading(name), _WIDTHS.get(name, 14), writing.Look(number=looks.get(name, "@"), line=True))
        for name in HEADINGS
    ]
    sheet = book.sheet(SHEET, columns, freeze=1, landscape=True, foot="* has to be filled in")
    sheet.headings()
    for _ in range(_ROWS):
        sheet.row([None] * len(columns))
    for at, name in enumerate(HEADINGS, 1):
        title, text = HEADINGS[name][0], notes[name]
        if choices.get(name):
            letter = "ABCDEF"[list(choices).index(name)]
            source = f"Choices!${letter}$2:${letter}${len(choices[name]) + 1}"
            sheet.choose(at, 2, _ROWS + 1, source, title=title, text=text)
        else:
            sheet.prompt(at, 2, _ROWS + 1, title=title, text=text)
    sheet.finish()
    _note_sheet(book, notes)
    _choice_sheet(book, choices)
    return book.to_bytes()


def _note_sheet(book: writing.Book, notes: dict[str, str]) -> None:
    sheet = book.sheet("Notes", [writing.Column("Column", 18), writing.Column("What to type", 90)], freeze=1)
    sheet.headings()
    for name, text in notes.items():
        sheet.row([heading(name), text])
    sheet.row(["", "Columns marked * have to be filled in. One row is one lot: equal pieces in one place."])
    sheet.row(
        ["", "The file is shown row by row before anything is stored, and is stored only when every row is right."]
    )
    sheet.finish()


def _choice_sheet(book: writing.Book, choices: dict[str, Iterable[str]]) -> None:
    columns = [writing.Column(HEADINGS[name][0], 26, writing.TEXT) for name in choices]
    sheet = book.sheet("Choices", columns, freeze=1)
    sheet.headings()
    lists = [list(values) for values in choices.values()]
    for at in range(max(map(len, lists))):
        sheet.row([values[at] if at < len(values) else None for values in lists])
    sheet.finish()
