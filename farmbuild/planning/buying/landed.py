"""Landed cost: what pieces of an order cost with their share of delivery, and of tax where nobody gets it back.

Of a line, what was billed is used first, and beyond it what the order says. Each receipt takes the pieces that follow
those of the receipts before it, at what all pieces up to its last one cost less what all up to its first one did. So
the costs of all receipts add up to the coin, and depend on what came and what was billed, not on which came first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from farmbuild.measure.money import from_minor, line_tax, line_total, places, share_out, tax_within

_NONE = Decimal(0)


@dataclass(frozen=True)
class OrderedLine:
    """A line as ordered or confirmed; ``price`` of one piece, ``tax_percent`` in percent."""

    key: int
    quantity: int
    price: Decimal
    tax_percent: Decimal = _NONE


@dataclass(frozen=True)
class BilledLine:
    """Pieces billed of the order's line ``key``, and what they come to before delivery, in coins."""

    key: int
    quantity: int
    total: Decimal
    tax_percent: Decimal = _NONE


@dataclass(frozen=True)
class Bill:
    """Amounts in coins. ``total`` is what is to be paid, whatever the rest adds up to.

    ``tax_included``: the tax is within the lines. ``tax_recovered``: the buyer gets it back.
    """

    lines: Sequence[BilledLine]
    delivery: Decimal
    tax: Decimal
    total: Decimal
    tax_included: bool = False
    tax_recovered: bool = False

    @property
    def added_up(self) -> Decimal:
        goods = sum((line.total for line in self.lines), _NONE)
        return goods + self.delivery + (_NONE if self.tax_included else self.tax)

    @property
    def cost(self) -> Decimal:
        return self.total - (self.tax if self.tax_recovered else _NONE)


@dataclass(frozen=True)
class Arrival:
    """What came of a line by one receipt: ``good`` pieces, and ``lost`` ones that are damaged and paid all the same.

    ``price``: of one of them before anything is billed, where it is another than the order's.
    """

    key: int
    line: int
    good: int
    lost: int = 0
    price: Decimal | None = None


@dataclass(frozen=True)
class Landed:
    """Coins: ``stock`` for the good pieces, ``expense`` for the lost ones."""

    stock: Decimal
    expense: Decimal = _NONE


@dataclass(frozen=True)
class Expected:
    """The order until it is billed: its ``delivery``, and how its tax counts."""

    lines: Sequence[OrderedLine]
    delivery: Decimal
    tax_included: bool
    tax_recovered: bool
    currency: str


@dataclass(frozen=True)
class Billed:
    """All that was billed of one line, less what was credited: pieces, and their landed cost in coins.

    ``beside``: coins that were billed for no pieces of its own, as delivery by itself; all pieces bear them.
    """

    quantity: int = 0
    cost: Decimal = _NONE
    beside: Decimal = _NONE


def landed_lines(bill: Bill, currency: str, values: Sequence[Decimal] = ()) -> list[Decimal]:
    """The landed cost of each line of ``bill`` in coins; they add up to its cost, and none is below 0.

    Delivery, tax that stays, and what the total has beyond its parts are shared by the value of the goods; tax within
    the prices that is recovered is taken out by the tax of each line. ``values``: what lines share by where no goods
    are billed. Raises ValueError where there is no line or the cost is below 0.
    """
    if bill.cost < 0:
        raise ValueError("more tax is recovered than was billed")
    goods = [line.total for line in bill.lines]
    if values and not any(goods):
        return share_out(bill.cost, values, currency)
    within = bill.tax if bill.tax_included and bill.tax_recovered else _NONE
    shares = share_out(bill.cost + within - sum(goods, _NONE), goods, currency)
    taxes = [tax_within(line.total, line.tax_percent, currency) for line in bill.lines]
    out = share_out(within, taxes if any(taxes) else goods, currency)
    found = [total + share - tax for total, share, tax in zip(goods, shares, out, strict=True)]
    return share_out(bill.cost, goods, currency) if min(found) < 0 else found


def landed(
    expected: Expected, billed: Mapping[int, Billed], delivery_billed: Decimal, arrivals: Sequence[Arrival]
) -> dict[int, Landed]:
    """By the key of each arrival what it costs. ``arrivals`` in the order of their receipts; ``billed`` by line.

    Delivery that was not billed yet is expected with what was not billed yet.
    """
    costs = _LineCosts(expected, billed, max(_NONE, expected.delivery - delivery_billed))
    came: dict[int, int] = {}
    found: dict[int, Landed] = {}
    for arrival in arrivals:
        first = came.get(arrival.line, 0)
        last = first + arrival.good + arrival.lost
        came[arrival.line] = last
        amount = costs.between(arrival.line, first, last, arrival.price)
        if arrival.good and arrival.lost:
            parts = share_out(amount, [Decimal(arrival.good), Decimal(arrival.lost)], expected.currency)
            found[arrival.key] = Landed(*parts)
        else:
            found[arrival.key] = Landed(amount) if arrival.good else Landed(_NONE, amount)
    return found


class _LineCosts:
    """What the first so many pieces of a line cost."""

    def __init__(self, expected: Expected, billed: Mapping[int, Billed], delivery: Decimal) -> None:
        self.expected, self.billed = expected, billed
        self.lines = {line.key: line for line in expected.lines}
        open_lines = [
            (line, line.quantity - self._billed(line.key).quantity)
            for line in expected.lines
            if line.quantity > self._billed(line.key).quantity
        ]
        self.open = {line.key: pieces for line, pieces in open_lines}
        self.open_cost = dict(zip(self.open, self._expected_costs(open_lines, delivery), strict=True))

    def _billed(self, line: int) -> Billed:
        return self.billed.get(line, Billed())

    def _expected_costs(self, lines: Sequence[tuple[OrderedLine, int]], delivery: Decimal) -> list[Decimal]:
        if not lines:
            return []
        given = self.expected
        rows = [
            BilledLine(line.key, pieces, line_total(pieces, line.price, given.currency), line.tax_percent)
            for line, pieces in lines
        ]
        tax_of = tax_within if given.tax_included else line_tax
        tax = sum((tax_of(row.total, row.tax_percent, given.currency) for row in rows), _NONE)
        bill = Bill(rows, delivery, tax, _NONE, given.tax_included, given.tax_recovered)
        return landed_lines(replace(bill, total=bill.added_up), given.currency)

    def between(self, line: int, first: int, last: int, price: Decimal | None) -> Decimal:
        """Of the pieces after the ``first`` up to the ``last``, in coins; ``price`` of one that is not billed yet."""
        amount = self._up_to(line, last) - self._up_to(line, first)
        beyond = last - max(first, self._billed(line).quantity)
        if price is None or beyond <= 0 or price == self.lines[line].price:
            return amount
        other = self._kept(self.lines[line], Fraction(price) - Fraction(self.lines[line].price)) * beyond
        return max(_NONE, amount + self._coins(other))

    def _up_to(self, line: int, pieces: int) -> Decimal:
        billed = self._billed(line)
        beside = self._beside(line, pieces)
        if pieces <= billed.quantity:
            return beside + (self._coins(Fraction(billed.cost) * pieces / billed.quantity) if pieces else _NONE)
        return beside + billed.cost + self._coins(self._expected_piece(line) * (pieces - billed.quantity))

    def _beside(self, line: int, pieces: int) -> Decimal:
        """What was billed for no pieces of its own is borne by all that were ordered, or billed where they are more."""
        billed = self._billed(line)
        of = max(self.lines[line].quantity, billed.quantity)
        return self._coins(Fraction(billed.beside) * min(pieces, of) / of)

    def _expected_piece(self, line: int) -> Fraction:
        """Of one piece that is not billed; beyond what was ordered and billed it brings no delivery with it."""
        if line in self.open:
            return Fraction(self.open_cost[line]) / self.open[line]
        row = self.lines[line]
        return self._kept(row, Fraction(row.price))

    def _kept(self, line: OrderedLine, amount: Fraction) -> Fraction:
        """An amount at the line's price with the tax that stays, or without that which is recovered."""
        percent = Fraction(line.tax_percent)
        if self.expected.tax_included:
            return amount * 100 / (100 + percent) if self.expected.tax_recovered else amount
        return amount if self.expected.tax_recovered else amount * (100 + percent) / 100

    def _coins(self, amount: Fraction) -> Decimal:
        """Half up; halves of negative amounts away from nothing."""
        coins = abs(amount) * 10 ** places(self.expected.currency)
        whole = (2 * coins.numerator + coins.denominator) // (2 * coins.denominator)
        return from_minor(whole if amount >= 0 else -whole, self.expected.currency)
