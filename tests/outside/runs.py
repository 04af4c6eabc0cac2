"""Joined runs of a plan: whole sticks of whatever lengths, looked at as what they make together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

Sticks = Counter[Fraction]


def makes_runs(sticks: Sticks, ends: Counter[Fraction], run: Fraction, slide: Fraction) -> bool:
    """Whether the sticks come apart into one run for each of ``ends``, what is sawn off it, and no stick is idle.

    A stick adds its length less a joint, and a run wants its length less a joint, since its first stick slides in none.
    """
    if not +ends:
        return not +sticks
    end = next(iter(+ends))
    return any(
        makes_runs(sticks - taken, ends - Counter([end]), run, slide)
        for taken in one_run(sticks, run - slide + end, slide)
        if end < min(taken) - slide or (end == 0 and len(taken) > 0)
    )


def one_run(sticks: Sticks, wanted: Fraction, slide: Fraction) -> Iterator[Sticks]:
    """Every choice of sticks that adds just so much."""
    lengths = sorted(+sticks, reverse=True)

    def add(at: int, missing: Fraction, taken: Sticks) -> Iterator[Sticks]:
        if missing == 0:
            yield taken
        elif missing > 0 and at < len(lengths):
            for n in range(sticks[lengths[at]], -1, -1):
                yield from add(at + 1, missing - n * (lengths[at] - slide), taken + Counter({lengths[at]: n}))

    yield from add(0, wanted, Counter())
