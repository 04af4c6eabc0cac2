"""The hoop as it is set, by plain trigonometry: a bent pipe of one length over a span. Floats, mm and radians."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Arc:
    """A circle of ``radius`` through ``half`` radians each side of the crown, on straight legs of ``leg``."""

    radius: float
    half: float
    leg: float

    @property
    def rise(self) -> float:
        """From the ends to the crown."""
        return self.leg + self.radius - self.radius * math.cos(self.half)

    @property
    def span(self) -> float:
        """Between the ends."""
        return 2 * self.radius * math.sin(self.half)

    def height(self, x: float) -> float:
        """Above the ends, at ``x`` from the middle: the angle whose sine is x / radius, and its cosine."""
        return self.rise - self.radius * (1 - math.cos(math.asin(min(1.0, abs(x) / self.radius))))


def set_over(pipe: float, span: float) -> Arc:
    """More pipe than a half circle over the span stands on legs; less is an arc found by Newton's method.

    An arc of half angle a has pipe 2 R a and span 2 R sin a, so sin a / a = span / pipe.
    """
    if pipe >= math.pi * span / 2:
        return Arc(span / 2, math.pi / 2, (pipe - math.pi * span / 2) / 2)
    wanted, a = span / pipe, math.sqrt(6 * (1 - span / pipe))
    for _ in range(60):
        a -= (math.sin(a) / a - wanted) / ((a * math.cos(a) - math.sin(a)) / a**2)
    return Arc(pipe / (2 * a), a, 0.0)
