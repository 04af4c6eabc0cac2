"""Tube sections, hoop geometry and bending recipes. Floats in mm, N and MPa; exact lengths are Decimal mm."""

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
from farmbuild.mechanics.recipe import LEVER_BELOW, BendRecipe
from farmbuild.mechanics.spring import SpringIn, flexibility, spring_in
from farmbuild.mechanics.trial import Judgement, Target, Verdict, effective_radius, judge
from farmbuild.mechanics.tubes import TUBES, TubeSection

__all__ = [
    "LEVER_BELOW",
    "TUBES",
    "BendRecipe",
    "GeometryError",
    "Hoop",
    "Judgement",
    "SpringIn",
    "StickChoice",
    "Target",
    "TubeSection",
    "Verdict",
    "bent_hoop",
    "developed_length",
    "effective_radius",
    "flexibility",
    "hoop_over",
    "joints",
    "judge",
    "spring_in",
    "sticks_for_span",
]
