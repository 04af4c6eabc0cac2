"""One purchase for several members: who gets how many pieces, and what each owes to the coin.

What stands on the orders beyond what members want (packs, price breaks), and what comes beyond it, is the buyer's own:
a sharer like each member, listed last. Goods of a line are shared by the pieces that each pays for, which is quantity
times price; its tax likewise, line by line; the delivery of an order by the goods of that order that each pays for. All
by largest remainder, ties to the first listed, so that shares add up to the bill.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from farmbuild.measure.money import from_minor, share_whole, to_minor
from farmbuild.planning.netting.market import Item

_NONE = Decimal(0)


class DamageRule(StrEnum):
    """Who gets fewer where pieces are missing, and who pays for those that are paid all the same.

    ``LISTED``: one piece fewer each from the first listed on, round and round, and who gets fewer pays for it.
    ``SHARED``: by the pieces that each wants. ``COOP``: pieces as ``LISTED``, paid by the buyer.
    """

    LISTED = "listed"
    SHARED = "shared"
    COOP = "coop"


@dataclass(frozen=True)
class Line:
    """A line of an order: ``whole`` pieces that are there or to come, ``lost`` ones that are paid all the same.

    ``goods`` and ``tax`` in coins, of all of them; tax that prices include, or that is given back, is not in ``tax``.
    """

    order: int
    item: Item
    whole: int
    goods: Decimal
    tax: Decimal
    lost: int = 0


@dataclass(frozen=True)
class Bill:
    """What is split. ``delivery``: by order, with whatever its bill has beyond its lines; in coins, signed."""

    lines: Sequence[Line]
    delivery: Mapping[int, Decimal]
    currency: str

    @property
    def total(self) -> Decimal:
        return sum((line.goods + line.tax for line in self.lines), _NONE) + sum(self.delivery.values(), _NONE)


@dataclass(frozen=True)
class Share:
    """Of one sharer: pieces by item; ``goods`` and ``tax`` by line, ``delivery`` by line too, in the order of the bill.

    ``owes`` is what they come to.
    """

    got: Mapping[Item, int]
    goods: tuple[Decimal, ...]
    tax: tuple[Decimal, ...]
    delivery: tuple[Decimal, ...]

    def owes_of(self, line: int) -> Decimal:
        return self.goods[line] + self.tax[line] + self.delivery[line]

    @property
    def owes(self) -> Decimal:
        return sum((self.owes_of(line) for line in range(len(self.goods))), _NONE)


@dataclass(frozen=True)
class Split:
    """``members`` as listed, and what is the buyer's ``own``."""

    members: tuple[Share, ...]
    own: Share


@dataclass(frozen=True)
class _Parts:
    """Of one item, by sharer, the buyer last: pieces, and pieces paid for."""

    got: list[int]
    paid: list[Fraction]


def split(wanted: Sequence[Mapping[Item, int]], bill: Bill, rule: DamageRule) -> Split:
    """``wanted``: pieces by item of each member, as listed. Raises ValueError where a number is below 0."""
    items = dict.fromkeys([*(item for one in wanted for item in one), *(line.item for line in bill.lines)])
    parts = {item: _parts([one.get(item, 0) for one in wanted], item, bill, rule) for item in items}
    sharers = range(len(wanted) + 1)
    goods = [_shared(line.goods, parts[line.item].paid, bill.currency) for line in bill.lines]
    tax = [_shared(line.tax, parts[line.item].paid, bill.currency) for line in bill.lines]
    delivery: list[list[Decimal]] = [[_NONE] * len(sharers) for _ in bill.lines]
    for order, amount in bill.delivery.items():
        own = [k for k, line in enumerate(bill.lines) if line.order == order]
        if not own and amount:
            raise ValueError("delivery of an order without lines")
        by = [sum((Fraction(goods[k][i]) for k in own), Fraction(0)) for i in sharers]
        if not any(by):
            by = [sum((parts[bill.lines[k].item].paid[i] for k in own), Fraction(0)) for i in sharers]
        for i, mine in enumerate(_shared(amount, by, bill.currency)):
            of_lines = _shared(mine, [Fraction(goods[k][i]) for k in own], bill.currency)
            for k, part in zip(own, of_lines, strict=True):
                delivery[k][i] = part
    shares = [
        Share(
            {item: parts[item].got[i] for item in items},
            tuple(row[i] for row in goods),
            tuple(row[i] for row in tax),
            tuple(row[i] for row in delivery),
        )
        for i in sharers
    ]
    return Split(tuple(shares[:-1]), shares[-1])


def fewer(wanted: Sequence[int], missing: int, rule: DamageRule) -> list[int]:
    """How many pieces fewer each gets where so many are missing of what all want."""
    if min([missing, *wanted]) < 0 or missing > sum(wanted):
        raise ValueError("no more is missing than is wanted, and nothing is below 0")
    if rule is DamageRule.SHARED:
        return share_whole(missing, [Decimal(one) for one in wanted]) if missing else [0] * len(wanted)
    less = [0] * len(wanted)
    while missing:
        for i, one in enumerate(wanted):
            if missing and less[i] < one:
                less[i] += 1
                missing -= 1
    return less


def _parts(wanted: Sequence[int], item: Item, bill: Bill, rule: DamageRule) -> _Parts:
    whole = sum(line.whole for line in bill.lines if line.item == item)
    lost = sum(line.lost for line in bill.lines if line.item == item)
    if min([whole, lost, *wanted]) < 0:
        raise ValueError("pieces are counted from 0 up")
    missing = max(0, sum(wanted) - whole)
    less = fewer(wanted, missing, rule)
    got = [one - gone for one, gone in zip(wanted, less, strict=True)]
    own = max(0, whole - sum(wanted))
    return _Parts(
        [*got, own], [one + more for one, more in zip([*got, own], _pay(wanted, less, lost, rule), strict=True)]
    )


def _pay(wanted: Sequence[int], less: Sequence[int], lost: int, rule: DamageRule) -> list[Fraction]:
    """How many of the lost pieces each pays for, the buyer last: he pays for what nobody is short of."""
    borne = min(lost, sum(less))
    if rule is DamageRule.COOP or not borne:
        members = [Fraction(0)] * len(wanted)
    elif rule is DamageRule.SHARED:
        members = [Fraction(borne * one, sum(wanted)) for one in wanted]
    else:
        members = [Fraction(one) for one in fewer(less, borne, DamageRule.LISTED)]
    return [*members, lost - sum(members, Fraction(0))]


def _shared(amount: Decimal, by: Sequence[Fraction], currency: str) -> list[Decimal]:
    """By largest remainder; where nobody has a part of it, the last one bears it."""
    if not any(by):
        return [*[_NONE] * (len(by) - 1), amount] if by else []
    scale = 1
    for part in by:
        scale = scale * part.denominator
    whole = [Decimal(int(part * scale)) for part in by]
    return [from_minor(coins, currency) for coins in share_whole(to_minor(amount, currency), whole)]
