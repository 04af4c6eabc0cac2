"""Whether a bender drifts: the radius of a measured hoop, and the trend of many by the median of their slopes.

Chord c and height h of an arc give its radius, R = c² / 8h + h / 2: two chords that cross cut each other into equal
products (Euclid, Elements III.35), here (c / 2)² = h (2R - h).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import median

#: mm: what a tape over a hoop that lies on the ground may err by (common practice, no source): 1/8 in.
LEAST_SPREAD = 3.175
#: The standard deviation of normal errors over their median deviation, and about 19 of 20 lie within two.
_SIGMAS = 2 * 1.4826
#: Hoops that are compared before a trend is stated (common practice, no source).
LEAST_HOOPS = 4
#: Of one trend, the latest: pairs grow with the square.
MOST_HOOPS = 150


@dataclass(frozen=True)
class Reading:
    """One hoop, mm. ``at``: how many pulls, or days, there were before it. Only hoops that are ``alike`` compare."""

    at: float
    radius: float
    alike: Hashable = None


@dataclass(frozen=True)
class Trend:
    """From the first reading to the last: ``slope`` mm a pull or day, ``change`` mm over all of it.

    ``levels``: by what is alike, the radius at ``start`` that the trend begins from. ``spread``: within how many mm
    of the trend about 19 of 20 hoops lie; never less than a tape errs by.
    """

    slope: float
    start: float
    end: float
    levels: dict[Hashable, float]
    spread: float
    readings: tuple[Reading, ...]

    @property
    def change(self) -> float:
        return self.slope * (self.end - self.start)

    def off(self, reading: Reading) -> float:
        """mm by which it is wider than the trend begins; below zero: tighter."""
        return reading.radius - self.levels[reading.alike]

    def exceeds(self, limit: float) -> bool:
        """The change is more than the measures spread by and more than ``limit``, mm."""
        return abs(self.change) > max(self.spread, limit)


def radius_of(span: float, rise: float) -> float:
    """Of a hoop that stands so free, mm. One that is higher than a half circle stands on straight legs."""
    if not (span > 0 and rise > 0):
        raise ValueError("Span and rise have to be more than zero.")
    return span / 2 if rise >= span / 2 else span * span / (8 * rise) + rise / 2


def pipe_of(span: float, rise: float) -> float:
    """Along the bend of a hoop that stands so free, mm; its legs too."""
    radius = radius_of(span, rise)
    if rise >= span / 2:
        return math.pi * radius + 2 * (rise - radius)
    return 4 * radius * math.atan2(2 * rise, span)


def median_slope(readings: Iterable[Reading]) -> float | None:
    """Of all pairs that are alike and not at one time (Theil 1950, Sen 1968); None without such a pair."""
    alike: dict[Hashable, list[Reading]] = defaultdict(list)
    for reading in readings:
        alike[reading.alike].append(reading)
    slopes = [
        (late.radius - early.radius) / (late.at - early.at)
        for rows in alike.values()
        for early, late in combinations(rows, 2)
        if late.at != early.at
    ]
    return median(slopes) if slopes else None


def trend_of(readings: Sequence[Reading]) -> Trend | None:
    """``readings`` in time. None where fewer than LEAST_HOOPS have another to be compared with."""
    count: dict[Hashable, set[float]] = defaultdict(set)
    for reading in readings:
        count[reading.alike].add(reading.at)
    compared = [reading for reading in readings if len(count[reading.alike]) > 1][-MOST_HOOPS:]
    slope = median_slope(compared)
    if slope is None or len(compared) < LEAST_HOOPS:
        return None
    start, end = compared[0].at, compared[-1].at
    levels = {
        key: median(row.radius - slope * (row.at - start) for row in compared if row.alike == key)
        for key in {row.alike for row in compared}
    }
    missed = median(abs(row.radius - levels[row.alike] - slope * (row.at - start)) for row in compared)
    return Trend(slope, start, end, levels, max(LEAST_SPREAD, _SIGMAS * missed), tuple(compared))
