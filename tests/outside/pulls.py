"""The hoop that a recipe's pulls make, walked along the pipe in small steps. Lengths in mm, floats."""

from __future__ import annotations

import math
from itertools import pairwise

#: Pipe past a mark that bender and lever need, and the least part of a pull that is made (common practice, no source).
LEAST_PAST, LEAST_PULL = 152.4, 5.0
STEP = 0.25


def marks(
    stick: float, insertion: float, first: float, pitch: float, *, joined: bool, sleeve: float = 0.0
) -> list[float]:
    """From the end that goes in first, every ``pitch``; none in a joint, and none with too little pipe past it.

    Nor where a pull would reach under half a sleeve at either end, which has to stay straight.
    """
    found, at = [], first
    while at < stick - 1e-9:
        past = stick - at
        in_joint = joined and (at < insertion - 1e-9 or past < insertion - 1e-9)
        if joined and sleeve:
            in_joint = min(at, past) - pitch / 2 < sleeve / 2 - 1e-9
        if not in_joint and past >= LEAST_PAST - 1e-9:
            found.append(at)
        at += pitch
    return found


def bent(
    sticks: int, stick: float, insertion: float, radius: float, first: float, pitch: float, sleeve: float = 0.0
) -> list[list[float]]:
    """[from, to] along the joined pipe of each pull.

    A pull bends half the pitch on either side of its mark, on its own stick, and nothing twice. Where all of them
    would turn more than half a circle, the same length at both ends of the hoop stays unbent.
    """
    found: list[list[float]] = []
    for n in range(sticks):
        for mark in marks(stick, insertion, first, pitch, joined=sticks > 1, sleeve=sleeve):
            at = n * (stick - insertion)
            start = max(at + max(0.0, mark - pitch / 2), found[-1][1] if found else 0.0)
            end = at + min(stick, mark + pitch / 2)
            if end > start:
                found.append([start, end])
    pipe, most = sticks * stick - (sticks - 1) * insertion, math.pi * radius
    if sum(end - start for start, end in found) <= most + 0.5:
        return found
    low, high = 0.0, pipe / 2
    for _ in range(200):  # How much of each end of the hoop stays unbent, by halving.
        middle = (low + high) / 2
        kept = sum(max(0.0, min(end, pipe - middle) - max(start, middle)) for start, end in found)
        low, high = (middle, high) if kept > most else (low, middle)
    parts = []
    for start, end in found:
        left = min(end, pipe - high) - max(start, high)
        if left > LEAST_PULL:  # A part pull is made about the middle of the full one.
            centre, half = (start + end) / 2, min(left, end - start) / 2
            parts.append([centre - half, centre + half])
    return parts


def span_and_rise(
    sticks: int, stick: float, insertion: float, radius: float, first: float, pitch: float, sleeve: float = 0.0
):
    """Between the ends, and from the line through them to the highest point: a walk of small straight steps."""
    pipe = sticks * stick - (sticks - 1) * insertion
    stretches = bent(sticks, stick, insertion, radius, first, pitch, sleeve)
    x = y = way = 0.0
    path, at, n = [(0.0, 0.0)], 0.0, 0
    corners = sorted({0.0, pipe, *(edge for stretch in stretches for edge in stretch)})
    for here, there in pairwise(corners):
        curved = any(start <= here and there <= end for start, end in stretches)
        steps = max(1, math.ceil((there - here) / STEP))
        step = (there - here) / steps
        for _ in range(steps):
            turn = step / radius if curved else 0.0
            way += turn / 2
            x, y, n = x + step * math.cos(way), y + step * math.sin(way), n + 1
            way += turn / 2
            path.append((x, y))
        at = there
    assert math.isclose(at, pipe)
    span = math.hypot(x, y)
    rise = max(abs(px * y - py * x) / span for px, py in path)
    return span, rise
