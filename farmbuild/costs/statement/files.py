"""Costs as text files: exact amounts by the decimal sign, a row a line, in English for whatever reads them."""

from __future__ import annotations

from farmbuild.common.speaking import as_kept
from farmbuild.costs.statement.houses import costs_of
from farmbuild.costs.statement.lines import statement_of
from farmbuild.measure import round_money
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.workbooks.plain_text import csv_bytes

_KINDS = ("materials", "time", "equipment", "trips", "total")


def house_csv(*, house: House) -> bytes:
    currency = house.organisation.currency
    with as_kept():
        statement = statement_of(house=house)
        lines = [
            [part.name, line.what, line.quantity, round_money(line.amount, currency)]
            for part in statement.parts
            for line in part.lines
        ]
        total = ["Total", str(house), "", round_money(statement.total, currency)]
        return csv_bytes([["Kind", "What", "How much", f"Cost, {currency}"], *lines, total])


def houses_csv(*, organisation: Organisation) -> bytes:
    currency = organisation.currency
    heads = ["For", *(f"{kind.capitalize()}, {currency}" for kind in _KINDS)]
    with as_kept():
        rows = [
            [row.name, *(round_money(getattr(row, kind), currency) for kind in _KINDS)]
            for row in costs_of(organisation=organisation)
        ]
        return csv_bytes([heads, *rows])
