"""What a house is quoted at: cost by kind, contingency, margin on the price, and tax by kind.

Every line is rounded half up to coins and summed after rounding. Hours carry their overhead, so both are one kind of
the price. Rules of cost plus pricing: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from enum import StrEnum

from farmbuild.measure import line_tax, line_total, round_money


class QuoteError(ValueError):
    """A figure that no quote can have. ``field`` is the one of ``Rates`` or ``Hours`` or ``Goods`` that is meant."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


class Kind(StrEnum):
    """The kinds of a price, each with its own tax."""

    MATERIALS = "materials"
    WORK = "work"
    EQUIPMENT = "equipment"


@dataclass(frozen=True)
class Rates:
    """What an organisation reckons with. Money an hour, a day or a trip; percents of 0 or more.

    ``margin`` is that part of the price, not of the cost, so it is under 100.
    """

    labour: Decimal
    overhead: Decimal
    contingency: Decimal = Decimal(0)
    margin: Decimal = Decimal(0)
    waste: Decimal = Decimal(0)
    tax: Mapping[Kind, Decimal] = ()  # type: ignore[assignment]

    def __post_init__(self) -> None:
        for name in ("labour", "overhead", "contingency", "waste"):
            if getattr(self, name) < 0:
                raise QuoteError(name, "Type 0 or more.")
        if not 0 <= self.margin < 100:
            raise QuoteError("margin", "A margin is a part of the price: type 0 or more, and less than 100.")
        object.__setattr__(self, "tax", dict(self.tax))
        if any(percent < 0 for percent in self.tax.values()):
            raise QuoteError("tax", "Type 0 or more.")


@dataclass(frozen=True)
class Goods:
    """A material as it is used, at its price a piece; a charge such as a delivery is one piece."""

    name: str
    quantity: Decimal
    price: Decimal


@dataclass(frozen=True)
class Hours:
    step: str
    hours: Decimal


@dataclass(frozen=True)
class Use:
    """Days of a bender, trips and the like, at the price of one."""

    name: str
    times: Decimal
    price: Decimal


@dataclass(frozen=True)
class Part:
    """One kind of a price: cost, contingency on it, and both with the margin."""

    kind: Kind
    cost: Decimal
    contingency: Decimal
    price: Decimal
    tax: Decimal


@dataclass(frozen=True)
class Priced:
    """A quote worked out. ``lines`` of the cost, by name, add up to the costs of ``parts``."""

    goods: tuple[Decimal, ...]
    labour: Decimal
    overhead: Decimal
    uses: tuple[Decimal, ...]
    parts: tuple[Part, ...]

    @property
    def cost(self) -> Decimal:
        return sum((part.cost for part in self.parts), Decimal(0))

    @property
    def contingency(self) -> Decimal:
        return sum((part.contingency for part in self.parts), Decimal(0))

    @property
    def before_tax(self) -> Decimal:
        return sum((part.price for part in self.parts), Decimal(0))

    @property
    def tax(self) -> Decimal:
        return sum((part.tax for part in self.parts), Decimal(0))

    @property
    def total(self) -> Decimal:
        return self.before_tax + self.tax

    def part(self, kind: Kind) -> Part:
        return next(part for part in self.parts if part.kind is kind)


def with_waste(pieces: int, percent: Decimal) -> int:
    """Pieces to reckon with where so many percent are spoilt, rounded up to whole ones."""
    if pieces < 0 or percent < 0:
        raise QuoteError("waste", "Type 0 or more.")
    return int((pieces * (100 + percent) / 100).to_integral_value(ROUND_CEILING))


def price(
    rates: Rates,
    goods: Sequence[Goods],
    hours: Sequence[Hours],
    uses: Sequence[Use],
    currency: str,
    *,
    change: bool = False,
) -> Priced:
    """What it costs and what it is offered at. Raises QuoteError.

    A ``change`` may take away what was offered: quantities below 0, which come to as much as was charged for them.
    """
    for row in goods:
        if (row.quantity < 0 and not change) or row.price < 0:
            raise QuoteError("goods", f"{row.name}: type 0 or more.")
    for work in hours:
        if work.hours < 0 and not change:
            raise QuoteError("hours", f"{work.step}: hours are 0 or more.")
    for use in uses:
        if (use.times < 0 and not change) or use.price < 0:
            raise QuoteError("uses", f"{use.name}: type 0 or more.")
    of_goods = tuple(line_total(row.quantity, row.price, currency) for row in goods)
    all_hours = sum((work.hours for work in hours), Decimal(0))
    labour, overhead = (line_total(all_hours, rate, currency) for rate in (rates.labour, rates.overhead))
    of_uses = tuple(line_total(use.times, use.price, currency) for use in uses)
    costs = {
        Kind.MATERIALS: sum(of_goods, Decimal(0)),
        Kind.WORK: labour + overhead,
        Kind.EQUIPMENT: sum(of_uses, Decimal(0)),
    }
    parts = tuple(_part(kind, cost, rates, currency) for kind, cost in costs.items())
    return Priced(of_goods, labour, overhead, of_uses, parts)


def _part(kind: Kind, cost: Decimal, rates: Rates, currency: str) -> Part:
    contingency = round_money(cost * rates.contingency / 100, currency)
    offered = round_money((cost + contingency) * 100 / (100 - rates.margin), currency)
    return Part(kind, cost, contingency, offered, line_tax(offered, rates.tax.get(kind, Decimal(0)), currency))
