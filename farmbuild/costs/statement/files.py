"""Costs as text files: exact amounts by the decimal sign, a row a line."""

from __future__ import annotations

from django.utils.translation import gettext

from farmbuild.costs.statement.houses import costs_of
from farmbuild.costs.statement.lines import statement_of
from farmbuild.measure import round_money
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.workbooks.plain_text import csv_bytes

_KINDS = ("materials", "time", "equipment", "trips", "total")


def house_csv(*, house: House) -> bytes:
    currency, statement = house.organisation.currency, statement_of(house=house)
    lines = [
        [part.name, line.what, line.quantity, round_money(line.amount, currency)]
        for part in statement.parts
        for line in part.lines
    ]
    total = [gettext("Total"), str(house), "", round_money(statement.total, currency)]
    return csv_bytes(
        [
            [
                gettext("Kind"),
                gettext("What"),
                gettext("How much"),
                gettext("Cost, %(currency)s") % {"currency": currency},
            ],
            *lines,
            total,
        ]
    )


def houses_csv(*, organisation: Organisation) -> bytes:
    currency = organisation.currency
    names = (gettext("Materials"), gettext("Time"), gettext("Equipment"), gettext("Trips"), gettext("Total"))
    heads = [gettext("For"), *(f"{name}, {currency}" for name in names)]
    rows = [
        [row.name, *(round_money(getattr(row, kind), currency) for kind in _KINDS)]
        for row in costs_of(organisation=organisation)
    ]
    return csv_bytes([heads, *rows])
