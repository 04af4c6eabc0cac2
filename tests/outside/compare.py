"""Rows worked out here against rows given, piece by piece and both ways."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from tests.outside.rows import Row
from tests.outside.runs import makes_runs

#: Lengths are kept to a millionth of a millimetre; what comes of trigonometry may be off in the last places, mm.
NEAR = 2e-5
Clusters = list[tuple[float, int]]


def near(one: float | Fraction | Decimal, other: float | Fraction | Decimal) -> bool:
    return abs(float(one) - float(other)) <= NEAR


def clusters(pieces: Iterable[tuple[float | Fraction | Decimal, int]]) -> Clusters:
    """(length, how many), shortest first; lengths that differ by nothing are one."""
    found: Clusters = []
    for size, count in sorted((float(size), count) for size, count in pieces):
        if found and near(found[-1][0], size):
            found[-1] = (found[-1][0], found[-1][1] + count)
        else:
            found.append((size, count))
    return found


def run_differences(ours: Iterable[Row], given: Iterable[Mapping[str, Any]]) -> list[str]:
    """Runs of joined pipe that the sticks given do not make; of which lengths they are is the plan's to choose."""
    told: dict[tuple[str, str], list[Mapping[str, Any]]] = defaultdict(list)
    for row in given:
        if row["whole"] and row["length"] is not None:
            told[row["purpose"], row["material"]].append(row)
    found = []
    for row in ours:
        if row.runs:
            sticks, ends = Counter[Fraction](), Counter[Fraction]()
            for one in told[row.purpose, row.material]:
                sticks[Fraction(one["length"])] += one["quantity"]
                ends[Fraction(one["trim"])] += one["trims"]
            ends[Fraction(0)] += row.runs - ends.total()
            if ends[Fraction(0)] < 0 or not makes_runs(sticks, ends, row.run, row.slide):
                found.append(f"{row.purpose}: {dict(sticks)} less {dict(ends)} are not {row.runs} of {float(row.run)}")
    return found


def differences(ours: Iterable[Row], given: Iterable[Mapping[str, Any]]) -> list[str]:
    """What is missing, extra or otherwise in ``given`` (rows of plan.json), in words; empty: nothing."""
    ours, given = list(ours), list(given)
    found = run_differences(ours, given)
    joined = {(row.purpose, row.material) for row in ours if row.runs}
    own: dict[tuple[Any, ...], list[tuple[Any, int]]] = defaultdict(list)
    told: dict[tuple[Any, ...], list[tuple[Any, int]]] = defaultdict(list)
    own_trims: dict[tuple[Any, ...], list[tuple[Any, int]]] = defaultdict(list)
    told_trims: dict[tuple[Any, ...], list[tuple[Any, int]]] = defaultdict(list)
    for row in ours:
        if row.runs:
            continue
        key = (row.purpose, row.material, row.length is not None, row.whole)
        own[key].append((row.length or 0, row.quantity))
        if row.trims:
            own_trims[key].append((row.trim, row.trims))
    for row in given:
        if row["whole"] and (row["purpose"], row["material"]) in joined:
            continue
        key = (row["purpose"], row["material"], row["length"] is not None, row["whole"])
        told[key].append((Decimal(row["length"] or 0), row["quantity"]))
        if row["trims"]:
            told_trims[key].append((Decimal(row["trim"]), row["trims"]))
    for what, mine, theirs in (("", own, told), (" to saw off", own_trims, told_trims)):
        for key in sorted(mine.keys() | theirs.keys(), key=str):
            a, b = clusters(mine.get(key, [])), clusters(theirs.get(key, []))
            same = len(a) == len(b) and all(near(x, y) and n == m for (x, n), (y, m) in zip(a, b, strict=True))
            if not same:
                found.append(f"{key[0]} of {key[1]}{what}: here {a}, given {b}")
    return found
