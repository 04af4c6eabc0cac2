"""Sentences and rows of what is offered: on the page in its reader's language, on paper as it is kept."""

from __future__ import annotations

from typing import NamedTuple

from django.utils.translation import gettext

from farmbuild.common.speaking import said
from farmbuild.measure import format_decimal, format_money
from farmbuild.quotes.bridge import Offered, OfferedHouse, OfferedPart


class PriceRow(NamedTuple):
    """An amount an option, in words; ``heavy``: a sum."""

    label: str
    heavy: bool
    amounts: list[str]


def price_rows(offered: Offered) -> list[PriceRow]:
    """Parts, tax and totals of the options side by side, and by how much each is above the first."""
    options, currency = offered.options, offered.currency
    first = options[0]
    rows = [
        PriceRow(said(part.name), False, [format_money(option.parts[at].price, currency) for option in options])
        for at, part in enumerate(first.parts)
    ]
    rows.append(
        PriceRow(gettext("Before tax"), True, [format_money(option.before_tax, currency) for option in options])
    )
    taxed = [
        PriceRow(
            _tax_on(part),
            False,
            [format_money(option.parts[at].tax, currency) for option in options],
        )
        for at, part in enumerate(first.parts)
        if any(option.parts[at].tax for option in options)
    ]
    rows += taxed
    if len(taxed) != 1:
        rows.append(PriceRow(gettext("Tax"), False, [format_money(option.tax, currency) for option in options]))
    rows.append(PriceRow(gettext("Total"), True, [format_money(option.total, currency) for option in options]))
    if len(options) > 1:
        more = [format_money(option.total - first.total, currency) for option in options[1:]]
        rows.append(PriceRow(gettext("More than %(option)s") % {"option": first.name}, False, ["", *more]))
    return rows


def _tax_on(part: OfferedPart) -> str:
    name = said(part.name)
    return gettext("Tax on %(part)s, %(percent)s %%") % {
        "part": f"{name[0].lower()}{name[1:]}",
        "percent": format_decimal(part.percent.normalize() + 0),
    }


def house_words(house: OfferedHouse) -> str:
    return house.name if house.quantity == 1 else f"{house.quantity} × {house.name}"
