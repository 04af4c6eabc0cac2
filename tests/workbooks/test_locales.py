"""Numbers, days and yes or no in our workbooks are cells of their own kind, the same in every locale."""

from __future__ import annotations

import csv
import io
import re
from datetime import date, datetime
from decimal import Decimal
from functools import cache

import pytest
from django.db import transaction
from openpyxl import load_workbook

from farmbuild.measure import POINT, THIN_SPACE, NumberStyle, read_decimal, use_style
from farmbuild.stock.files import xlsx_template
from farmbuild.stock.importing import make_draft
from farmbuild.workbooks.days import DayError, read_day
from tests.factories import MaterialFactory, MembershipFactory, OrganisationFactory
from tests.size import LONG, sized
from tests.workbooks.exports import Office, demo_exports

pytestmark = pytest.mark.django_db
COMMA = NumberStyle(",", THIN_SPACE)
LOCALES = {"de-DE": COMMA, "en-US": POINT}
SPACES = " \u00a0\u2007\u2009\u202f"
#: With or without groups, decimals, a sign, a percent sign.
BARE_NUMBER = re.compile(rf"[-+−]?(?:\d[\d.,{SPACES}]*|[.,]\d+) ?%?")


def is_bare(text: str) -> bool:
    if BARE_NUMBER.fullmatch(text.strip()):
        return True
    try:
        return bool(read_day(text))
    except DayError:
        return False


def test_what_is_seen_as_a_bare_number_or_day():
    for text in ("1,234.50", "1 200", "12", "-3", "6.25%", "1.234,5", "1\u202f200", "2027-05-03", "3 May 2027"):
        assert is_bare(text), text
    for text in ("3 mm", "12'", "1 to 5", "L-0001", "$12", "", "of 3", "A.1", "3/4"):
        assert not is_bare(text), text


@pytest.fixture(scope="module")
def exports_by(django_db_setup, django_db_blocker):
    """Made once for each decimal sign; nothing of it stays in the database."""

    @cache
    def exports_by(sign: str) -> dict[str, bytes]:
        with django_db_blocker.unblock(), transaction.atomic():
            found = demo_exports(sign)
            transaction.set_rollback(True)
        return found

    return exports_by


@pytest.mark.parametrize("sign", [".", ","])
def test_every_number_and_day_in_a_workbook_is_a_cell_of_that_kind(sign, exports_by):
    exports = exports_by(sign)
    assert {re.sub(r"-\d+$", "", name) for name in exports} >= {
        "buying-workbook",
        "crew-hours-workbook",
        "plans-change-file",
        "plans-cut-list",
        "plans-leftovers-file",
        "plans-take-off",
        "plans-trial-order",
        "project",
        "project-template-imperial",
        "project-template-metric",
        "sites-takeoff-spreadsheet",
        "stock-count-xlsx",
        "stock-season-end-file",
        "stock-template-xlsx",
    }
    wrong, numbers, days = [], 0, 0
    for name, data in exports.items():
        for sheet in load_workbook(io.BytesIO(data)):
            for cell in (cell for row in sheet.iter_rows() for cell in row if cell.value is not None):
                numbers += isinstance(cell.value, (int, float)) and not isinstance(cell.value, bool)
                days += isinstance(cell.value, date)
                if name.startswith("history-") and cell.column_letter in "FG":
                    # What a value of any kind was and is, in the words of then.
                    continue
                if isinstance(cell.value, str) and cell.data_type != "f" and is_bare(cell.value):
                    wrong.append((name, sheet.title, cell.coordinate, cell.value))
    assert wrong == []
    assert numbers > sized(800, 1000) and days > sized(10, 20)


def kept(value: object) -> object:
    """A value of a cell, whatever program wrote it."""
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, (int, float)):
        return round(float(value), 9)
    return value.replace(microsecond=0) if isinstance(value, datetime) else value


def values_of(data: bytes) -> dict[str, list[list[object]]]:
    """By sheet, without empty cells and rows at the ends."""
    found = {}
    for sheet in load_workbook(io.BytesIO(data), data_only=True):
        rows = [[kept(value) for value in row] for row in sheet.iter_rows(values_only=True)]
        found[sheet.title] = without_empty_ends(rows)
    return found


def without_empty_ends(rows: list[list[object]]) -> list[list[object]]:
    for row in rows:
        while row and row[-1] in (None, ""):
            row.pop()
    while rows and not rows[-1]:
        rows.pop()
    return rows


def as_text(value: object, text: str, style: NumberStyle) -> object:
    """What a cell of a text file says, where the cell of the workbook has ``value``."""
    if text == "" or value is None:
        return None if text == "" else text
    if isinstance(value, bool):
        return {"WAHR": True, "TRUE": True, "FALSCH": False, "FALSE": False}[text]
    if isinstance(value, (int, float)):
        return kept(float(read_decimal(text.removesuffix("%"), style)) / (100 if text.endswith("%") else 1))
    if isinstance(value, datetime):
        return datetime.strptime(text, "%d.%m.%Y" if style == COMMA else "%m/%d/%Y")  # noqa: DTZ007
    return text


@pytest.mark.office
@pytest.mark.parametrize("locale", LOCALES if LONG else ["de-DE"])
def test_libreoffice_opens_every_workbook_with_the_same_values(locale, exports_by, tmp_path):
    exports = exports_by(".")
    style, office, here = LOCALES[locale], Office(tmp_path / "profile", locale), tmp_path / "in"
    here.mkdir()
    files = [here / f"{name}.xlsx" for name in exports]
    for path, data in zip(files, exports.values(), strict=True):
        path.write_bytes(data)
    office.xlsx(files, tmp_path / "again")
    office.csv(files, tmp_path / "text", delimiter=";", as_shown=False)
    seen = 0
    for path in files:
        before = values_of(path.read_bytes())
        assert values_of((tmp_path / "again" / path.name).read_bytes()) == before, path.name
        for title, rows in before.items():
            text = (tmp_path / "text" / f"{path.stem}-{title}.csv").read_text(encoding="utf-8")
            read = without_empty_ends(list(csv.reader(io.StringIO(text), delimiter=";")))
            assert len(read) == len(rows), (path.name, title)
            for at, (row, cells) in enumerate(zip(rows, read, strict=True), 1):
                found = [as_text(value, cell, style) for value, cell in zip(row, cells, strict=True)]
                assert found == row, (path.name, title, at)
                seen += sum(isinstance(value, float) for value in row)
    assert seen > 1000


@pytest.mark.office
@pytest.mark.parametrize(
    ("locale", "sign", "delimiter"),
    [("de-DE", ",", ";"), ("en-US", ".", ","), *([("en-US", ".", ";")] if LONG else [])],
)
def test_a_text_file_that_libreoffice_makes_reads_back_to_the_same_lots(locale, sign, delimiter, tmp_path):
    organisation = OrganisationFactory(unit_system="metric", decimal_sign=sign)
    user = MembershipFactory(organisation=organisation).user
    for code, kind in (("rail", "tube"), ("screw", "fastener")):
        MaterialFactory(organisation=organisation, code=code, kind=kind)
    book = load_workbook(io.BytesIO(xlsx_template(organisation=organisation, today=date(2027, 3, 1))))
    sheet = book["Lots"]
    half = f"5850{sign}5 mm"
    rows = [
        ("rail", "6000 mm", 1200, "Rack 1", None, 1234.5, None, date(2026, 11, 3), "R-1", True),
        ("rail", half, 4, "Rack; 2", None, 0.085, None, date(2026, 12, 24), None, "yes"),
        ("screw", None, 5_000_000, "Tin, small", None, 0.0625, None, date(2027, 3, 5), None, False),
        ("rail", 5850, 7, "Rack 1", None, 3, None, None, None, None),
        ("rail", 6, 12, "Rack 1", None, 3.75, None, None, None, None),
    ]
    for at, row in enumerate(rows, 2):
        for column, value in enumerate(row, 1):
            sheet.cell(at, column).value = value
    path = tmp_path / "lots.xlsx"
    book.save(path)
    Office(tmp_path / "profile", locale).csv([path], tmp_path / "text", delimiter=delimiter, as_shown=True)
    text = (tmp_path / "text" / "lots-Lots.csv").read_bytes()
    given = {"organisation": organisation, "user": user, "today": date(2027, 3, 1)}
    read = []
    with use_style(LOCALES[locale]):
        for data, name in ((path.read_bytes(), path.name), (text, "lots.csv")):
            draft = make_draft(data=data, filename=name, **given)
            read.append([row for part in draft.parts.filter(bad=False) for row in part.rows])
    assert [row["problems"] for row in read[0]] == [{}] * len(rows)
    for row in (row for rows in read for row in rows):
        row["cost"] = Decimal(row["cost"]).normalize()
    assert read[1] == read[0]
    assert [row["quantity"] for row in read[1]] == [1200, 4, 5_000_000, 7, 12]
