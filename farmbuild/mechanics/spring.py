"""Springing a hoop in: the force at its ends, the moment at its crown, and whether the pipe takes a set.

A thin curved beam, ends free to turn, pushed together along the line through them by F: the moment at height y above
that line is F y, so the ends close by d = F / (E I) times the integral of y^2 along the pipe (Castigliano; Roark,
circular rings and arches), whatever the shape: ``BentHoop`` sums it over its arcs and straights. For an arc of half
angle a without legs it is R^3 k, with k = a (1 + 2 cos^2 a) - 3 sin a cos a; at a = pi/2 the handbook's
d = pi F R^3 / (2 E I). Bending stress M (OD / 2) / I.
A shop estimate of when bent pipe takes a set; no structural design.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from farmbuild.mechanics.tubes import TubeSection


class Standing(Protocol):
    """A hoop standing on its ends: ``half_angle`` is half of what it turns, rad, and ``flexibility`` the integral of
    y^2 along the pipe, mm3."""

    @property
    def half_angle(self) -> float: ...

    @property
    def rise(self) -> float: ...

    @property
    def flexibility(self) -> float: ...


@dataclass(frozen=True)
class SpringIn:
    """Closing the ends by ``inward`` mm: N, N mm and MPa. ``elastic_limit`` is the most that springs back, mm."""

    inward: float
    force: float
    crown_moment: float
    stress: float
    yield_mpa: float | None
    elastic_limit: float | None

    @property
    def takes_set(self) -> bool | None:
        """Whether the pipe stays bent; None when its yield strength is not stated."""
        return None if self.yield_mpa is None else abs(self.stress) > self.yield_mpa


def stress_in(sprung: SpringIn, height: float, tube: TubeSection) -> float:
    """Bending stress of a tube that alone carries the moment ``height`` mm over the ends, MPa: F y / (I / (OD / 2))."""
    return sprung.force * height / tube.section_modulus


def spring_in(hoop: Standing, tube: TubeSection, inward: float) -> SpringIn:
    """Work out springing the free hoop in by ``inward`` mm (below zero: pulled apart)."""
    force = inward * tube.e_mpa * tube.second_moment / hoop.flexibility
    moment = force * hoop.rise
    stress = moment / tube.section_modulus
    limit = None
    if tube.yield_mpa is not None:
        limit = tube.yield_mpa * tube.section_modulus / hoop.rise * hoop.flexibility
        limit /= tube.e_mpa * tube.second_moment
    return SpringIn(inward, force, moment, stress, tube.yield_mpa, limit)
