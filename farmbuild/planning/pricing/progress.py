"""How far a job is earned, and what its stages bill.

Earned by cost to cost: of the contract the part that the cost so far is of the cost at completion (an input method of
IFRS 15, B18, and ASC 606-10-55-20; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from farmbuild.measure import round_money


@dataclass(frozen=True)
class Progress:
    """Amounts in coins. ``part``: exactly what part is done; 0 while nothing is to cost anything."""

    at_completion: Decimal
    part: Fraction
    earned: Decimal
    #: What is billed beyond what is earned; below 0 it is earned and not billed.
    overbilled: Decimal
    profit: Decimal


def progress(*, contract: Decimal, cost: Decimal, to_come: Decimal, billed: Decimal, currency: str) -> Progress:
    """All amounts 0 or more, before tax. Raises ValueError else."""
    if min(contract, cost, to_come, billed) < 0:
        raise ValueError("amounts are 0 or more")
    whole = cost + to_come
    part = Fraction(cost) / Fraction(whole) if whole else Fraction(0)
    # One division at the end: rounding the part first would be off by coins.
    earned = round_money(contract * cost / whole, currency) if whole else Decimal(0)
    return Progress(whole, part, earned, billed - earned, contract - whole)


@dataclass(frozen=True)
class Stage:
    """One bill of a contract. ``due`` is billed less what is kept back."""

    billed: Decimal
    kept: Decimal

    @property
    def due(self) -> Decimal:
        return self.billed - self.kept


def stages(contract: Decimal, percents: Sequence[Decimal], retention: Decimal, currency: str) -> tuple[Stage, ...]:
    """The bills of a contract: each its percent, the last what is left; so they add up to it.

    ``retention``: percent of all that is billed so far, kept back until the end; each bill keeps back what that grows
    by. Raises ValueError unless the percents are above 0 and make 100, and retention is 0 to under 100.
    """
    if not percents or min(percents) <= 0 or sum(percents) != 100:
        raise ValueError("stages are above 0 % each and make 100 % together")
    if not 0 <= retention < 100:
        raise ValueError("what is kept back is 0 % or more, and less than 100 %")
    if contract < 0:
        raise ValueError("a contract is 0 or more")
    made: list[Stage] = []
    billed = kept = Decimal(0)
    for number, percent in enumerate(percents, start=1):
        left = contract - billed
        # A few coins in many stages round up to more than there is.
        amount = left if number == len(percents) else min(left, round_money(contract * percent / 100, currency))
        billed += amount
        so_far = round_money(billed * retention / 100, currency)
        made.append(Stage(amount, so_far - kept))
        kept = so_far
    return tuple(made)
