"""Costs as text files: exact amounts by the decimal sign, a row a line."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

from farmbuild.costs.statement.houses import costs_of
from farmbuild.costs.statement.lines import statement_of
from farmbuild.measure import current_style, round_money, typed_as
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.workbooks import writing

_KINDS = ("materials", "time", "equipment", "trips", "total")


def _text(rows: Iterable[Sequence[str | Decimal]]) -> bytes:
    """Parted as spreadsheets do where that is the decimal sign, marked as UTF-8; no cell of it becomes a formula."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";" if current_style().decimal == "," else ",")
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _cell(cell: str | Decimal) -> str:
    if isinstance(cell, Decimal):
        return typed_as(cell)
    return f"'{cell}" if cell.startswith(writing.RISKY) else cell


def house_csv(*, house: House) -> bytes:
    currency, statement = house.organisation.currency, statement_of(house=house)
    lines = [
        [part.name, line.what, line.quantity, round_money(line.amount, currency)]
        for part in statement.parts
        for line in part.lines
    ]
    total = ["Total", str(house), "", round_money(statement.total, currency)]
    return _text([["Kind", "What", "How much", f"Cost, {currency}"], *lines, total])


def houses_csv(*, organisation: Organisation) -> bytes:
    currency = organisation.currency
    heads = ["For", *(f"{kind.capitalize()}, {currency}" for kind in _KINDS)]
    rows = [
        [row.name, *(round_money(getattr(row, kind), currency) for kind in _KINDS)]
        for row in costs_of(organisation=organisation)
    ]
    return _text([heads, *rows])
