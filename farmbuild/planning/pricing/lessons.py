"""What finished jobs teach: the median of a figure, and how far it went to either side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Spread:
    jobs: int
    lowest: Decimal
    median: Decimal
    highest: Decimal


def spread_of(figures: Sequence[Decimal]) -> Spread | None:
    """One figure a job; None without any. Of an even number the median is halfway between the two in the middle."""
    if not figures:
        return None
    ordered = sorted(figures)
    middle = len(ordered) // 2
    median = ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2
    return Spread(len(ordered), ordered[0], median, ordered[-1])
