"""A joint order of rail and pipe from one supplier, worked out again in whole coins and fractions, from its words.

Nothing here imports the application. Amounts are coins: 1,234 is 12.34 of a currency of two decimals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


def half_up(exact: Fraction) -> int:
    return int(exact + Fraction(1, 2))


def parts(coins: int, by: Sequence[Fraction | int]) -> list[int]:
    """By largest remainder, ties to the first."""
    whole = sum(by)
    exact = [Fraction(coins) * one / whole for one in by]
    found = [int(one) for one in exact]
    order = sorted(range(len(by)), key=lambda at: (found[at] - exact[at], at))
    for at in order[: coins - sum(found)]:
        found[at] += 1
    return found


@dataclass(frozen=True)
class Line:
    """``wanted`` by member; of what came ``damaged`` pieces, which the supplier credits or not; ``prices`` of one piece
    in coins, from so many on; ``tax``: percent, added to the line or within it."""

    wanted: Sequence[int]
    prices: dict[int, Fraction]
    damaged: int = 0

    def price(self, count: int) -> Fraction:
        return self.prices[max(least for least in self.prices if least <= count)]


@dataclass(frozen=True)
class Told:
    """How it is bought and billed. ``tax`` None: nobody bears any (it comes back, or stands within the prices).

    ``bill_tax``: what the bill says of tax in all; ``delivery``: what it says of delivery, ``charge`` what the offer
    says of it.
    """

    lines: Sequence[Line]
    rule: str
    credited: bool
    delivery: int
    charge: int
    tax: Fraction | None = None
    bill_tax: int | None = None


@dataclass(frozen=True)
class Row:
    got: tuple[int, ...]
    goods: int
    tax: int
    delivery: int
    owes: int
    alone: int


def rows_of(told: Told) -> tuple[list[Row], int]:
    """Each member's, and what is left to the cooperative."""
    people = len(told.lines[0].wanted)
    got, paid, totals = [], [], []
    for line in told.lines:
        less = _less(line, told.rule)
        mine = [one - gone for one, gone in zip(line.wanted, less, strict=True)]
        got.append(mine)
        own = Fraction(0)
        bears = [Fraction(0)] * people
        if not told.credited and line.damaged:
            if told.rule == "listed":
                bears = [Fraction(one) for one in less]
            elif told.rule == "shared":
                bears = [Fraction(line.damaged * one, sum(line.wanted)) for one in line.wanted]
            else:
                own = Fraction(line.damaged)
        paid.append([*(one + more for one, more in zip(mine, bears, strict=True)), own])
        billed = sum(line.wanted) - (line.damaged if told.credited else 0)
        totals.append(half_up(billed * line.price(sum(line.wanted))))
    goods = [parts(total, by) if any(by) else [0] * (people + 1) for total, by in zip(totals, paid, strict=True)]
    taxes = [[0] * (people + 1) for _ in told.lines]
    if told.tax is not None:
        expected = [half_up(total * told.tax / 100) for total in totals]
        of_lines = expected if told.bill_tax is None else parts(told.bill_tax, expected)
        taxes = [parts(amount, by) if amount else [0] * (people + 1) for amount, by in zip(of_lines, paid, strict=True)]
    delivery = parts(told.delivery, [sum(line[at] for line in goods) for at in range(people + 1)])
    rows = [
        Row(
            got=tuple(line[at] for line in got),
            goods=sum(line[at] for line in goods),
            tax=sum(line[at] for line in taxes),
            delivery=delivery[at],
            owes=sum(line[at] for line in (*goods, *taxes)) + delivery[at],
            alone=_alone(told, [line[at] for line in got]),
        )
        for at in range(people)
    ]
    own = sum(line[people] for line in (*goods, *taxes)) + delivery[people]
    # Both ways: by members, and by what the bill says.
    assert sum(row.owes for row in rows) + own == sum(totals) + sum(map(sum, taxes)) + told.delivery
    return rows, own


def _less(line: Line, rule: str) -> list[int]:
    """Pieces fewer: from the first listed on, round and round, or by what each wants."""
    if rule == "shared":
        return parts(line.damaged, line.wanted)
    less, left = [0] * len(line.wanted), line.damaged
    while left:
        for at, one in enumerate(line.wanted):
            if left and less[at] < one:
                less[at], left = less[at] + 1, left - 1
    return less


def _alone(told: Told, pieces: Sequence[int]) -> int:
    """At the same offers: as many of each line, or as many more as bring it down to a cheaper price."""
    if not any(pieces):
        return 0
    whole = told.charge
    for line, count in zip(told.lines, pieces, strict=True):
        if count:
            counts = [count, *(least for least in line.prices if least > count)]
            whole += min(_with_tax(half_up(many * line.price(many)), told.tax) for many in counts)
    return whole


def _with_tax(total: int, tax: Fraction | None) -> int:
    return total + (half_up(total * tax / 100) if tax is not None else 0)
