"""What the pages of costs show, gathered once."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from farmbuild.common.speaking import said_list
from farmbuild.costs.statement.drawings import bars
from farmbuild.costs.statement.houses import GENERAL, costs_of
from farmbuild.costs.statement.lines import statement_of
from farmbuild.measure import format_money
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

#: Bars of a drawing; the table has every house.
MOST_BARS = 8


def house_page(*, house: House) -> dict[str, Any]:
    statement, currency = statement_of(house=house), house.organisation.currency
    parts = [(part.name, part.amount) for part in statement.parts]
    said = [
        gettext("%(amount)s of %(part)s") % {"amount": format_money(amount, currency), "part": str(name).lower()}
        for name, amount in parts
    ]
    return {
        "statement": statement,
        "estimated": statement.estimated,
        "total": format_money(statement.total, currency),
        "said": said_list(said),
        "drawing": bars(parts, currency=currency, title=gettext("Cost of %(house)s") % {"house": house})
        if parts
        else "",
    }


def houses_page(*, organisation: Organisation) -> dict[str, Any]:
    rows, currency = costs_of(organisation=organisation), organisation.currency
    shown = [(row.name, row.total) for row in rows if row.name != GENERAL][:MOST_BARS]
    houses = sum(row.url is not None for row in rows)
    return {
        "rows": rows,
        "houses": houses,
        "total": format_money(sum(row.total for row in rows), currency) if rows else "",
        "drawing": bars(shown, currency=currency, title=gettext("Cost of houses")) if shown else "",
        "more": max(0, len(rows) - len(shown)),
    }
