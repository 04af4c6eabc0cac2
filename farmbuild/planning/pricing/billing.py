"""What one bill of a contract asks for: its part of each kind of the price, their tax, and what is kept back.

All bills of a contract add up to it to the coin, amounts before tax and tax by kind alike: what completes a kind takes
all that is left of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import line_tax, round_money, share_out
from farmbuild.planning.pricing.quote import Kind

#: A kind of the price and its percent of tax.
Key = tuple[Kind, Decimal]
NOTHING = Decimal(0)


@dataclass(frozen=True)
class Part:
    """Of one kind and percent of tax: before tax, and tax; in coins. Below 0 it goes back to the customer."""

    kind: Kind
    percent: Decimal
    amount: Decimal
    tax: Decimal

    @property
    def key(self) -> Key:
        return self.kind, self.percent


@dataclass(frozen=True)
class Amounts:
    """Of one bill. ``kept``: kept back of it; below 0 what was kept back is paid."""

    parts: tuple[Part, ...]
    kept: Decimal

    @property
    def billed(self) -> Decimal:
        return sum((part.amount for part in self.parts), NOTHING)

    @property
    def tax(self) -> Decimal:
        return sum((part.tax for part in self.parts), NOTHING)

    @property
    def due(self) -> Decimal:
        return self.billed - self.kept + self.tax

    def taken_back(self) -> Amounts:
        parts = tuple(Part(part.kind, part.percent, -part.amount, -part.tax) for part in self.parts)
        return Amounts(parts, -self.kept)


def summed(parts: Sequence[Part]) -> dict[Key, Part]:
    """One a key, in the order in which keys come first."""
    found: dict[Key, Part] = {}
    for part in parts:
        had = found.get(part.key, Part(part.kind, part.percent, NOTHING, NOTHING))
        found[part.key] = Part(part.kind, part.percent, had.amount + part.amount, had.tax + part.tax)
    return found


def left_of(contract: Sequence[Part], billed: Sequence[Part]) -> dict[Key, Part]:
    """What of a contract is not billed yet."""
    return summed([*contract, *(Part(part.kind, part.percent, -part.amount, -part.tax) for part in billed)])


def stage_amount(contract: Decimal, percent: Decimal, left: Decimal, *, last: bool, currency: str) -> Decimal:
    """Before tax. ``left`` of the contract is not billed yet; the last stage asks for all of it."""
    return left if last else max(NOTHING, min(left, round_money(contract * percent / 100, currency)))


def bill_parts(contract: Sequence[Part], billed: Sequence[Part], amount: Decimal, *, currency: str) -> tuple[Part, ...]:
    """``amount`` over the kinds, by what is left of each. Raises ValueError where it is more than is left in all."""
    left = left_of(contract, billed)
    so_far = summed(billed)
    open_amount = sum((part.amount for part in left.values()), NOTHING)
    if amount == open_amount:
        return tuple(part for part in left.values() if part.amount or part.tax)
    if not 0 <= amount < open_amount:
        raise ValueError("a bill asks for no more than is left of the contract")
    whole = summed(contract)
    keys = [key for key, part in left.items() if part.amount > 0]
    shares = share_out(amount, [left[key].amount for key in keys], currency)
    return tuple(
        _part(key, share, left[key], whole, so_far, currency) for key, share in zip(keys, shares, strict=True) if share
    )


def _part(
    key: Key, share: Decimal, left: Part, whole: Mapping[Key, Part], so_far: Mapping[Key, Part], currency: str
) -> Part:
    kind, percent = key
    if share == left.amount:
        return Part(kind, percent, share, left.tax)
    before = so_far.get(key, Part(kind, percent, NOTHING, NOTHING))
    tax = line_tax(before.amount + share, percent, currency) - before.tax
    # Of several contracts each was rounded by itself: never more than there is.
    return Part(kind, percent, share, max(NOTHING, min(tax, whole[key].tax - before.tax)))


def kept_back(billed: Decimal, percent: Decimal, kept: Decimal, currency: str) -> Decimal:
    """Of a bill after which ``billed`` is billed in all, where ``kept`` is kept back already."""
    return round_money(billed * percent / 100, currency) - kept
