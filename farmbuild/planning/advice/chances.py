"""The chance that a house has its materials by its day, from lead times and spoil as they were recorded.

Seasons are drawn by a seed (Monte Carlo): a lead time is one of the recorded ones, each as likely as the others; of the
sticks of a house each is spoilt with the recorded share. What is spoilt beyond the spare sticks is ordered again, and
takes another lead time of that supplier. The same input gives the same chances.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from itertools import accumulate
from math import comb

SEASONS = 4000
#: The chance that the day of ordering is to give.
WANTED = Fraction(95, 100)


@dataclass(frozen=True)
class Waits:
    """A house and the suppliers that it waits for. ``bends``: sticks of ``tube`` bent for it, which ``again`` sells."""

    house: str
    need_date: date
    suppliers: tuple[str, ...]
    bends: int = 0
    tube: str = ""
    again: str = ""


@dataclass(frozen=True)
class Chance:
    """``share`` of the seasons has all by the day, 0 to 1; ordered by ``order_by`` it is at least ``WANTED``."""

    house: str
    share: Fraction
    order_by: date


def chances(
    waits: Sequence[Waits],
    leads: Mapping[str, Sequence[int]],
    *,
    ordered_on: date,
    spoil: Fraction = Fraction(0),
    spare: Mapping[str, int] | None = None,
    seasons: int = SEASONS,
    seed: int = 1,
) -> list[Chance]:
    """One a house, in the order given.

    ``leads``: days from ordering to the last delivery of each supplier named in ``waits``, at least one. ``spoil``:
    share of sticks, 0 to below 1. ``spare``: sticks of each tube beyond what the houses take; who needs theirs first
    has them first.
    """
    chance = random.Random(seed)
    tables = {count: _at_most(count, spoil) for count in {one.bends for one in waits} if count and spoil}
    order = sorted(range(len(waits)), key=lambda n: (waits[n].need_date, n))
    days: list[list[int]] = [[] for _ in waits]
    names = sorted(leads)
    for _ in range(seasons):
        lead = {name: chance.choice(leads[name]) for name in names}
        left = dict(spare or {})
        for n in order:
            one = waits[n]
            takes = max((lead[name] for name in one.suppliers), default=0)
            if one.bends in tables:
                spoilt = bisect_right(tables[one.bends], chance.random())
                lacks = max(0, spoilt - left.get(one.tube, 0))
                left[one.tube] = max(0, left.get(one.tube, 0) - spoilt)
                if lacks and one.again:
                    takes += chance.choice(leads[one.again])
            days[n].append(takes)
    return [_chance(one, sorted(took), ordered_on) for one, took in zip(waits, days, strict=True)]


def _chance(one: Waits, took: list[int], ordered_on: date) -> Chance:
    in_time = bisect_right(took, (one.need_date - ordered_on).days)
    # The least wait that so many of the seasons do not exceed.
    enough = -(-len(took) * WANTED.numerator // WANTED.denominator)
    return Chance(one.house, Fraction(in_time, len(took)), one.need_date - timedelta(days=took[enough - 1]))


def _at_most(count: int, share: Fraction) -> list[float]:
    """Chance that at most 0, 1, 2 … of ``count`` are spoilt (binomial distribution)."""
    p = float(share)
    return list(accumulate(comb(count, k) * p**k * (1 - p) ** (count - k) for k in range(count + 1)))
