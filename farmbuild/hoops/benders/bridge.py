"""Benders, and sticks joined on one, as the geometry sees them."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.catalogue.bridge import material_input
from farmbuild.catalogue.models import Material
from farmbuild.common.field_problems import FieldProblems
from farmbuild.common.lengths import length_text
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import UnitSystem
from farmbuild.mechanics import (
    BendRecipe,
    GeometryError,
    Hoop,
    Standing,
    bent_hoop,
    developed_length,
    hoop_over,
    radius_for_span,
    sticks_for_span,
)
from farmbuild.planning.house import spring
from farmbuild.planning.house.fields import INCH, RECIPE_BY_NAME
from farmbuild.planning.house.recipes import joint_problems
from farmbuild.planning.house.spec import SLEEVES, Joint
from farmbuild.planning.house.spring import most_spring_in

__all__ = [
    "INCH",
    "JOINTS",
    "RECIPE_BY_NAME",
    "SLEEVES",
    "BendRecipe",
    "GeometryError",
    "Hoop",
    "Joint",
    "Standing",
    "bender_problems",
    "bent_hoop",
    "developed_length",
    "hoop_over",
    "join_problems",
    "kink_warning",
    "most_spring_in",
    "radius_for_span",
    "spring_range",
    "springs_back",
    "sticks_for_span",
    "wanted_spring_in",
]

#: How sticks are joined, in words.
JOINTS = RECIPE_BY_NAME["joint"].choices
#: A bend tighter than this many outside diameters commonly kinks thin-walled pipe (common practice, no source).
TIGHTEST_IN_DIAMETERS = 10


def join_problems(
    sticks: int, stick_length: Decimal, insertion: Decimal, tube: Material | None, units: UnitSystem | str, joint: Joint
) -> dict[str, list[str]]:
    """Messages by field where sticks cannot be joined so; any tube that can where ``tube`` is None."""
    problems = FieldProblems({})
    given = tube and material_input(tube)
    for problem in joint_problems(sticks, stick_length, insertion, given, units=UnitSystem(units), joint=joint):
        problems.add(problem.part, problem.message)
    if sticks > 1 and joint in SLEEVES and insertion:
        problems.add("insertion", "A sleeve loses no length, so no stick slides in. Leave the insertion empty.")
    return problems.found


def kink_warning(radius: Decimal, tube: Material, units: UnitSystem | str) -> str:
    """In words where a bend is tighter than thin pipe commonly bears, with the numbers; empty where it is not."""
    width = tube.width
    if not width or radius >= TIGHTEST_IN_DIAMETERS * width:
        return ""
    least = length_text(TIGHTEST_IN_DIAMETERS * width, units)
    return (
        f"A radius of {length_text(radius, units)} is tight for {tube.name}, {length_text(width, units)} across:"
        f" pipe commonly kinks below {TIGHTEST_IN_DIAMETERS} times its diameter, here {least} (common practice,"
        " no source). Bend one stick for trial first."
    )


def bender_problems(bender: Bender) -> dict[str, list[str]]:
    """Messages by field, in the organisation's units; empty when there can be such a bender."""
    units = bender.organisation.unit_system
    found = {
        name: [f"A {what} of {length_text(getattr(bender, name), units)} bends nothing. Type a length above zero."]
        for name, what in (("rated_radius", "radius"), ("rated_span", "span"))
        if getattr(bender, name) <= 0
    }
    if bender.drift_limit is not None and bender.drift_limit <= 0:
        found["drift_limit"] = ["No two hoops are the same. Type a length above zero, or leave it empty."]
    return found


def springs_back(hoop: Standing, tube: Material | None) -> Decimal | None:
    """The most that the hoop springs back from, mm; None where no tube is said, or not its section and yield."""
    return spring.springs_back(hoop, spring.section_of(tube and material_input(tube)))


def wanted_spring_in(limit: Decimal | None, units: UnitSystem | str) -> Decimal:
    """Where nobody says otherwise, mm."""
    return spring.wanted_spring_in(limit, UnitSystem(units))


def spring_range(hoop: Standing, tube: Material, post_span: Decimal | None, units: UnitSystem | str) -> str:
    """How far the hoop may be sprung in, as tube and radius allow, in sentences."""
    return spring.range_words(hoop, material_input(tube), post_span, UnitSystem(units))
