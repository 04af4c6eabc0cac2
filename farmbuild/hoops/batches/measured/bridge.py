"""Measured hoops as the geometry sees them."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.hoops.batches.models import TrialHoop
from farmbuild.mechanics.drift import LEAST_HOOPS, Reading, Trend, pipe_of, radius_of, trend_of

__all__ = ["LEAST_HOOPS", "Reading", "Trend", "arc_radius", "hoop_problems", "radius_at_gap", "trend_of"]

#: As a share of the pipe: by how much what span and rise take may miss it, straight ends and the tape counted.
_MISSES = 0.06


def arc_radius(span: Decimal, rise: Decimal) -> Decimal:
    """Of a hoop that is so wide and high, mm."""
    return to_decimal(radius_of(float(span), float(rise)))


def hoop_problems(span: Decimal, rise: Decimal, pipe: Decimal, units: str) -> dict[str, list[str]]:
    """Messages by field for sizes that no hoop has together."""
    asked = {
        "free_span": (span, "Measure between the hoop's ends and type it."),
        "rise": (rise, "Measure from the line through the ends to the crown and type it."),
        "pipe": (pipe, "Type how much pipe is in the hoop, along its bend."),
    }
    if missing := {name: [words] for name, (length, words) in asked.items() if length <= 0}:
        return missing
    needs = pipe_of(float(span), float(rise))
    if abs(needs - float(pipe)) <= _MISSES * float(pipe):
        return {}
    return {
        "pipe": [
            f"A hoop {length_text(span, units)} wide and {length_text(rise, units)} high takes about"
            f" {length_text(needs, units)} of pipe along its bend, and this says {length_text(pipe, units)}."
            " Measure all three again."
        ]
    }


def radius_at_gap(trial: TrialHoop) -> float:
    """What the bender made of a trial hoop, mm, were it pulled to the stop gap of its recipe.

    A gap that is corrected from hoop to hoop would hide what the bender does: a change of g turns a pull by g / pitch.
    """
    recipe = trial.batch.recipe
    left = trial.stop_gap if trial.last_gap is None else trial.last_gap
    more = float(left - recipe.stop_gap) / float(recipe.pitch) ** 2
    curvature = 1 / float(trial.effective_radius) + more
    return 1 / curvature if curvature > 0 else float(trial.effective_radius)
