"""How many rows one workbook may have, and whose prices: looked at before any row is read."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from types import SimpleNamespace

import pytest

from farmbuild.projects import intake
from farmbuild.workbooks import project_layout as layout


def reading(*, sheets=None, own_with_tax=False, book_with_tax=False) -> intake.Intake:
    own = SimpleNamespace(unit_system="imperial", name="Farm", currency="USD", prices_include_tax=own_with_tax)
    buyer = SimpleNamespace(currency="USD", prices_include_tax=book_with_tax)
    book = SimpleNamespace(tables=sheets, season=SimpleNamespace(buyer=buyer))
    return intake.Intake(organisation=own, user=None, book=book, filename="", today=date(2026, 12, 1))


@pytest.mark.parametrize(("sites", "lots", "refused"), [(3, 2, []), (4, 2, ["Houses"]), (3, 3, ["Stock"])])
def test_as_many_rows_as_may_be_read_are_read_and_one_more_is_not(monkeypatch, sites, lots, refused):
    monkeypatch.setattr(intake, "MOST_ROWS", 3)
    monkeypatch.setattr(intake, "MOST_LOTS", 2)
    sheets = {"Sites": SimpleNamespace(lines=[None] * sites), "Stock": SimpleNamespace(lines=[None] * lots)}
    found = reading(sheets=sheets)
    assert found._too_long() == bool(refused)
    assert [fault.sheet for fault in found.outcomes.faults] == refused


@pytest.mark.parametrize("own_with_tax", [True, False])
@pytest.mark.parametrize("book_with_tax", [True, False])
def test_prices_with_the_tax_are_not_mixed_with_those_without(own_with_tax, book_with_tax):
    values = {field.name: None for field in layout.SUPPLIERS.fields} | {"delivery_charge": Decimal(85)}
    sheets = {"Suppliers": SimpleNamespace(layout=layout.SUPPLIERS, lines=[SimpleNamespace(values=values)])}
    found = reading(sheets=sheets, own_with_tax=own_with_tax, book_with_tax=book_with_tax)
    assert found._other_money() == (own_with_tax != book_with_tax)
    said = [fault.sentence for fault in found.outcomes.faults]
    assert all(words.startswith(f"Prices here are {layout.PRICES[own_with_tax]}, and") for words in said)
