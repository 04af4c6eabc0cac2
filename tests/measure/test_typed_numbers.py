"""A table of numbers as five countries type them, each read or refused as it must be."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from farmbuild.measure import (
    THIN_SPACE,
    NumberStyle,
    Unit,
    parse_length,
    parse_money,
    parse_quantity,
    read_decimal,
    use_style,
)

#: How the organisations of each country are set up: decimal sign, and what they write between thousands.
COUNTRIES = {
    "en-US": NumberStyle(".", ","),
    "de-DE": NumberStyle(",", THIN_SPACE),
    "fr-FR": NumberStyle(",", THIN_SPACE),
    "en-NZ": NumberStyle(".", THIN_SPACE),
    "es-MX": NumberStyle(".", THIN_SPACE),
}
READERS = {
    "money": lambda text: parse_money(text, "EUR"),
    "count": lambda text: parse_quantity(text, least=0),
    "decimal": read_decimal,
    "length": lambda text: parse_length(text, Unit.METRE),
}


def table() -> list[list[str]]:
    lines = Path(__file__).with_name("typed_numbers.txt").read_text(encoding="utf-8").splitlines()
    return [[part.strip() for part in line.split(" | ")] for line in lines if not line.startswith("#")]


ROWS = table()


def test_the_table_has_200_numbers_each_once():
    assert len(ROWS) >= 200
    assert len({tuple(row[:2]) for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize("country", COUNTRIES)
def test_every_number_of_the_table_is_what_it_must_be(country):
    style, wrong = COUNTRIES[country], []
    for kind, shown, point, comma in ROWS:
        text = shown.replace("_", "\N{NO-BREAK SPACE}").replace("~", THIN_SPACE)
        must = point if style.decimal == "." else comma
        with use_style(style):
            try:
                read = READERS[kind](text)
            except ValueError as error:
                readings = tuple(getattr(error, "readings", ()))
                came = " or ".join(readings) if readings else "no"
                right = came == must and all(reading in str(error) for reading in readings)
            else:
                came, right = str(read), " or " not in must and must != "no" and read == Decimal(must)
        if not right:
            wrong.append(f"{kind} {shown}: {came}, and must be {must}")
    assert wrong == []
