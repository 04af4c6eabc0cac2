"""Sentences and rows of what is offered, the same on the page and on paper."""

from __future__ import annotations

from typing import NamedTuple

from farmbuild.measure import format_decimal, format_money
from farmbuild.quotes.bridge import Offered, OfferedHouse


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
        PriceRow(part.name, False, [format_money(option.parts[at].price, currency) for option in options])
        for at, part in enumerate(first.parts)
    ]
    rows.append(PriceRow("Before tax", True, [format_money(option.before_tax, currency) for option in options]))
    taxed = [
        PriceRow(
            f"Tax on {part.name[0].lower()}{part.name[1:]}, {format_decimal(part.percent.normalize() + 0)} %",
            False,
            [format_money(option.parts[at].tax, currency) for option in options],
        )
        for at, part in enumerate(first.parts)
        if any(option.parts[at].tax for option in options)
    ]
    rows += taxed
    if len(taxed) != 1:
        rows.append(PriceRow("Tax", False, [format_money(option.tax, currency) for option in options]))
    rows.append(PriceRow("Total", True, [format_money(option.total, currency) for option in options]))
    if len(options) > 1:
        more = [format_money(option.total - first.total, currency) for option in options[1:]]
        rows.append(PriceRow(f"More than {first.name}", False, ["", *more]))
    return rows


def house_words(house: OfferedHouse) -> str:
    return house.name if house.quantity == 1 else f"{house.quantity} × {house.name}"
