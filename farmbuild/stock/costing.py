"""What pieces of a lot cost as they come and go, to the coin: amounts of movements and who bears them.

A lot keeps its value. What goes out is the value before less the value after, and the value of what is left is always
worked out at one exact ratio, so that amounts telescope however the lot is taken apart, and the last piece takes all
that is left. The ratio is ``unit_cost``, or ``basis_value`` for ``basis_pieces`` where that would not give the value.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.db.models import QuerySet, Sum

from farmbuild.sites.models import House
from farmbuild.stock.bridge import from_minor, round_money, share_out, share_whole, to_minor
from farmbuild.stock.models import CostShare, Lot, Movement

#: Kinds whose pieces somebody bears; a first count of a new lot brings it into the books instead, with no shares.
BORNE = (Movement.Kind.ISSUE, Movement.Kind.RETURN, Movement.Kind.SCRAP, Movement.Kind.COUNT)
#: Last place of what one piece costs.
COST_STEP = Decimal("0.0001")
_NOTHING = Decimal(0)
#: Parts of a piece that a share is kept in.
_PARTS = 1000


@dataclass(frozen=True)
class Share:
    """What one house bears, or a job as a whole, or with neither general expense; above zero costs. A stick shared has
    parts of a piece."""

    house: int | None
    quantity: Decimal
    amount: Decimal
    job: int | None = None


@dataclass(frozen=True)
class Books:
    """A lot as its row says under its lock: ``pieces`` are worth ``value``."""

    pieces: int
    value: Decimal
    unit_cost: Decimal
    basis_value: Decimal
    basis_pieces: int
    currency: str

    def worth(self, pieces: int) -> Decimal:
        """So many of these pieces, at the ratio of the lot, in whole coins."""
        if not self.basis_pieces:
            return round_money(self.unit_cost * pieces, self.currency)
        exact = Fraction(to_minor(self.basis_value, self.currency) * pieces, self.basis_pieces)
        return from_minor(int(exact + Fraction(1, 2)), self.currency)

    def cost_of(self, quantity: int) -> Decimal:
        """Of so many more that come in at the cost of one."""
        return round_money(self.unit_cost * quantity, self.currency)

    def change(self, quantity: int) -> Decimal:
        """The amount of ``quantity`` more or, below zero, fewer pieces at the ratio of the lot."""
        after = self.pieces + quantity
        return (self.worth(after) if after else Decimal(0)) - self.value

    def basis_after(self, quantity: int, amount: Decimal) -> tuple[Decimal, int]:
        """The basis once the movement is there: as it was while it still gives the value."""
        pieces, value = self.pieces + quantity, self.value + amount
        kept = (self.basis_value, self.basis_pieces)
        return kept if not pieces or self.worth(pieces) == value else (value, pieces)


def first_amount(lot: Lot, currency: str) -> Decimal:
    """What the pieces on hand of a lot that is just being stored cost, by what one of them does."""
    return round_money(Decimal(lot.unit_cost) * lot.on_hand, currency)


def books_of(lots: Sequence[int]) -> dict[int, Books]:
    """By key of the lot; the caller holds their locks. One query."""
    rows = Lot.objects.filter(pk__in=lots).values_list(
        "pk", "on_hand", "value", "unit_cost", "basis_value", "basis_pieces", "organisation__currency"
    )
    return {pk: Books(*row) for pk, *row in rows}


def cost_of_one(amount: Decimal, pieces: int) -> Decimal:
    """To the four places that a lot says."""
    return (amount / pieces).quantize(COST_STEP)


def shared_by(quantity: int, amount: Decimal, houses: Sequence[tuple[House, int]], currency: str) -> list[Share]:
    """What pieces cost each house, in proportion to the number beside it; both without a sign."""
    by = [Decimal(part) for _, part in houses]
    pieces = share_whole(quantity * _PARTS, by)
    return [
        Share(house.pk, Decimal(part) / _PARTS, money)
        for (house, _), part, money in zip(houses, pieces, share_out(amount, by, currency), strict=True)
    ]


def still_out(movements: QuerySet[Movement]) -> list[Share]:
    """What was borne of these movements and has not come back, by house and job in the order of their keys; one query.

    Nothing below zero: where more came back than went out, as from no house by name, nothing is out.
    """
    rows = CostShare.objects.filter(movement__in=movements).order_by("house", "job").values_list("house", "job")
    sums = rows.annotate(pieces=Sum("quantity"), coins=Sum("amount"))
    out = (Share(house, max(pieces, _NOTHING), max(coins, _NOTHING), job) for house, job, pieces, coins in sums)
    return [share for share in out if share.quantity or share.amount]


def brought_back(out: Sequence[Share], quantity: Decimal, currency: str) -> list[Share]:
    """What ``quantity`` of the pieces that are out take back of their cost; the last piece brings all that is left.

    The same part of every house's, and ``quantity`` is no more than is out.
    """
    pieces = sum((share.quantity for share in out), Decimal(0))
    amount = sum((share.amount for share in out), Decimal(0))
    part = amount if quantity == pieces else round_money(amount * quantity / pieces, currency)
    parts = share_whole(int(quantity * _PARTS), [share.quantity for share in out])
    money = share_out(part, [share.amount for share in out], currency)
    return [
        Share(share.house, -Decimal(mine) / _PARTS, -coins, share.job)
        for share, mine, coins in zip(out, parts, money, strict=True)
    ]


def opposite(shares: Sequence[CostShare]) -> Iterator[Share]:
    for share in shares:
        yield Share(share.house_id, -share.quantity, -share.amount, share.job_id)


def store_shares(shares: Sequence[tuple[Movement, Sequence[Share]]]) -> None:
    CostShare.objects.bulk_create(
        CostShare(
            movement=movement, house_id=share.house, job_id=share.job, quantity=share.quantity, amount=share.amount
        )
        for movement, some in shares
        for share in some
    )
