"""What a customer is shown of a quote or a change order: page, PDF and workbook are all made of these.

It is read from the JSON that was frozen when it was sent. Lines of cost and rates stand there too, for whoever sent it;
they are not among these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

#: Of the JSON; a later form is another number.
FORM = 1


@dataclass(frozen=True)
class OfferedPart:
    """One kind of the price. Amounts in coins; ``percent``: its tax."""

    name: str
    price: Decimal
    percent: Decimal
    tax: Decimal


@dataclass(frozen=True)
class OfferedHouse:
    """``facts``: (heading, words). ``drawings``: (title, SVG of our own making)."""

    name: str
    quantity: int
    facts: tuple[tuple[str, str], ...]
    drawings: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class OfferedOption:
    """``option``: key of its row, 0 of a change order. ``included``: (what, how many in words)."""

    option: int
    name: str
    houses: tuple[OfferedHouse, ...]
    included: tuple[tuple[str, str], ...]
    work: tuple[str, ...]
    parts: tuple[OfferedPart, ...]
    before_tax: Decimal
    tax: Decimal
    total: Decimal


@dataclass(frozen=True)
class Offered:
    """``title``: "Quote Q-0001, version 2". ``cautions``: (what about, words). ``where``: lines under the sender."""

    title: str
    sender: str
    to: tuple[str, ...]
    job: str
    day: date
    valid_until: date
    currency: str
    units: str
    note: str
    options: tuple[OfferedOption, ...]
    exclusions: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    where: tuple[str, ...] = ()

    def option(self, key: int) -> OfferedOption | None:
        return next((option for option in self.options if option.option == key), None)


def offered_of(shown: Mapping[str, Any]) -> Offered:
    return Offered(
        title=shown["title"],
        sender=shown["sender"],
        to=tuple(shown["to"]),
        job=shown["job"],
        day=date.fromisoformat(shown["day"]),
        valid_until=date.fromisoformat(shown["valid_until"]),
        currency=shown["currency"],
        units=shown["units"],
        note=shown["note"],
        options=tuple(map(_option, shown["options"])),
        exclusions=tuple(shown["exclusions"]),
        cautions=_pairs(shown["cautions"]),
        # What went out before it was shown has none.
        where=tuple(shown.get("where", ())),
    )


def _pairs(rows: list[list[str]]) -> tuple[tuple[str, str], ...]:
    return tuple((first, second) for first, second in rows)


def _option(row: Mapping[str, Any]) -> OfferedOption:
    return OfferedOption(
        option=row["option"],
        name=row["name"],
        houses=tuple(
            OfferedHouse(house["name"], house["quantity"], _pairs(house["facts"]), _pairs(house["drawings"]))
            for house in row["houses"]
        ),
        included=_pairs(row["included"]),
        work=tuple(row["work"]),
        parts=tuple(
            OfferedPart(part["name"], Decimal(part["price"]), Decimal(part["percent"]), Decimal(part["tax"]))
            for part in row["parts"]
        ),
        before_tax=Decimal(row["before_tax"]),
        tax=Decimal(row["tax"]),
        total=Decimal(row["total"]),
    )
