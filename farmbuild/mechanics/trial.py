"""Judging the trial hoop: is it an arc, is it the right one, and how to change each pull when it is not."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from farmbuild.measure import format_mm
from farmbuild.measure.lengths import MICRON
from farmbuild.measure.speech import gettext_noop
from farmbuild.mechanics.bent import BentHoop
from farmbuild.mechanics.hoops import GeometryError
from farmbuild.mechanics.recipe import BendRecipe


class Verdict(StrEnum):
    ACCEPTED = "accepted"
    OVER_BENT = "over-bent"
    UNDER_BENT = "under-bent"
    NOT_AN_ARC = "not an arc"
    TWISTED = "twisted"


@dataclass(frozen=True)
class Target:
    """What the free hoop should measure, exact mm: ``free_span`` is the post span plus the wanted spring-in.

    A hoop that is off by a whole tolerance is within it.
    """

    free_span: Decimal
    span_tolerance: Decimal
    rise_tolerance: Decimal
    twist_tolerance: Decimal


@dataclass(frozen=True)
class Judgement:
    """Radii and lengths in mm, angles in radians.

    ``more_a_pull`` is what each pull still lacks (below zero: what it has too much); ``gap_change`` is how much the
    stop gap changes (below zero: stop closer to flat). Both, and what follows, are None for a hoop that is no arc.
    ``span_after`` is the free span that the same marks give after the correction; it misses the target only where
    the gap cannot be closed further.
    """

    verdict: Verdict
    target_radius: float
    effective_radius: float
    rise_of_arc: float
    cause: str
    more_a_pull: float | None = None
    gap_change: float | None = None
    gap_after: float | None = None
    span_after: float | None = None

    @property
    def degrees_more_a_pull(self) -> float | None:
        return None if self.more_a_pull is None else math.degrees(self.more_a_pull)


PEAKED = gettext_noop(
    "The rise is more than an arc of this span has: the crown is bent tighter than the sides. Likely causes: pulls "
    "too hard near the joint, a kink at the crown, or marks skipped towards the ends."
)
FLAT = gettext_noop(
    "The rise is less than an arc of this span has: the crown is flatter than the shoulders. Likely causes: a flat "
    "or missed pull near the joint, a kink nearer the ends, or too short a joint left unbent."
)
TWISTED = gettext_noop(
    "The hoop does not lie flat: the marks did not stay in line from pull to pull, or the sticks were joined turned "
    "against each other."
)


def check_pair(developed: Decimal, free_span: Decimal, rise: Decimal) -> None:
    """Raise GeometryError for a span and rise that no pipe of that length can have: it would not reach."""
    if not rise > 0:
        raise GeometryError("rise", "The rise has to be more than zero.")
    if not 0 < free_span < developed:
        raise GeometryError(
            "span",
            f"The span measures {format_mm(free_span, 0)} and the joined sticks have"
            f" {format_mm(developed, 0)}: measure again"
            " between the ends of the hoop.",
        )
    if free_span**2 + 4 * rise**2 > developed**2:
        raise GeometryError(
            "rise",
            f"Over a span of {format_mm(free_span, 0)} a rise of {format_mm(rise, 0)} needs at least "
            f"{format_mm((free_span**2 + 4 * rise**2).sqrt(), 0)} of pipe; "
            f"the joined sticks have {format_mm(developed, 0)}.",
        )


def judge(
    recipe: BendRecipe, target: Target, free_span: Decimal, rise: Decimal, twist: Decimal = Decimal(0)
) -> Judgement:
    """Judge a trial hoop of ``recipe`` measured standing free, in exact mm: what is off is compared exactly.

    The radius really bent is the one on which the recipe's pulls, each on the stretch that it bends, make the measured
    span; a true arc has the rise that goes with it. The stop gap is taken one pitch along the bender, where a change
    of g turns the pull by g / pitch. Raises GeometryError for a pair of span and rise that cannot be.
    """
    check_pair(recipe.developed, free_span, rise)
    wanted = recipe.hoop_over(float(target.free_span)).radius
    bent = recipe.hoop_over(float(free_span))
    measured, rise_of_arc = bent.radius, bent.rise
    found = (wanted, measured, rise_of_arc)
    if abs(twist) > target.twist_tolerance:
        return Judgement(Verdict.TWISTED, *found, cause=TWISTED)
    peak = rise - Decimal(rise_of_arc).quantize(MICRON)
    if abs(peak) > target.rise_tolerance:
        return Judgement(Verdict.NOT_AN_ARC, *found, cause=PEAKED if peak > 0 else FLAT)
    pitch = float(recipe.pitch)
    more = pitch * (1 / wanted - 1 / measured)
    gap_after = max(0.0, float(recipe.stop_gap) - more * pitch)
    change = gap_after - float(recipe.stop_gap)
    after = BentHoop(bent.developed, bent.curvature - change / pitch**2, bent.stretches)
    off = free_span - target.free_span
    if abs(off) <= target.span_tolerance:
        verdict, cause = Verdict.ACCEPTED, ""
    elif off < 0:
        verdict, cause = Verdict.OVER_BENT, gettext_noop("Every pull went a little too far.")
    else:
        verdict, cause = Verdict.UNDER_BENT, gettext_noop("Every pull stopped a little too soon.")
    return Judgement(
        verdict,
        *found,
        cause=cause,
        more_a_pull=more,
        gap_change=change,
        gap_after=gap_after,
        span_after=after.span,
    )
