"""Lists as other programs write them read as the same list, and as what was typed by hand beside it."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import pytest
from openpyxl import Workbook

from tests.catalogue.lists.conftest import LIST
from tests.factories import FOOT
from tests.workbooks.exports import Office

pytestmark = [pytest.mark.django_db, pytest.mark.office]
#: By hand from LIST: short name, length, pack, prices, days.
WANTED = [
    ("rail", FOOT * 10, 1, [(1, "14.6"), (50, "13.4")], 6),
    ("board", FOOT * 12, 1, [(1, "11.1")], 2),
    ("screw", None, 100, [(1, "0.0725")], None),
]


def openpyxl_book():
    """Prices as numbers shown as money, the others as numbers."""
    made = Workbook()
    for n, row in enumerate(csv.reader(io.StringIO(LIST))):
        made.active.append([float(cell) if n and at in (3, 4, 5, 6) and cell else cell for at, cell in enumerate(row)])
        made.active.cell(n + 1, 6).number_format = '"$"#,##0.00##'
    return made


def test_read_alike(shop, tmp_path):
    office = Office(tmp_path / "profile", "en-US")
    plain, book, out = tmp_path / "typed.csv", tmp_path / "written.xlsx", tmp_path / "out"
    plain.write_text(LIST, encoding="utf-8")
    openpyxl_book().save(book)
    office.xlsx([plain, book], out)
    office.csv([book], out, delimiter=";", as_shown=True)
    files = [plain, book, out / "typed.xlsx", out / "written.xlsx", *out.glob("*.csv")]
    assert len(files) == 5
    for file in files:
        found = shop.understood(shop.send(file.read_bytes(), file.name))
        read = [
            (row.material.code, row.length, row.listed.pack, row.now, row.listed.lead_days) for row in found.changes
        ]
        wanted = [(*rest, [(amount, Decimal(price)) for amount, price in steps], days) for *rest, steps, days in WANTED]
        assert (found.problem, read) == ("", wanted), file.name
