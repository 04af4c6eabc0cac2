"""Tube sections, hoop geometry and bending recipes. Floats in mm, N and MPa; exact lengths are Decimal mm."""

from farmbuild.mechanics.bent import BentHoop
from farmbuild.mechanics.hoops import (
    GeometryError,
    Hoop,
    StickChoice,
    bent_hoop,
    developed_length,
    hoop_over,
    joints,
    sticks_for_span,
)
from farmbuild.mechanics.pulls import MIN_PAST_MARK, LeftOff, Pull
from farmbuild.mechanics.recipe import LEVER_BELOW, BendRecipe, radius_for_span
from farmbuild.mechanics.spring import SpringIn, Standing, spring_in, stress_in
from farmbuild.mechanics.trial import Judgement, Target, Verdict, judge
from farmbuild.mechanics.tubes import TUBES, TubeSection

__all__ = [
    "LEVER_BELOW",
    "MIN_PAST_MARK",
    "TUBES",
    "BendRecipe",
    "BentHoop",
    "GeometryError",
    "Hoop",
    "Judgement",
    "LeftOff",
    "Pull",
    "SpringIn",
    "Standing",
    "StickChoice",
    "Target",
    "TubeSection",
    "Verdict",
    "bent_hoop",
    "developed_length",
    "hoop_over",
    "joints",
    "judge",
    "radius_for_span",
    "spring_in",
    "sticks_for_span",
    "stress_in",
]
