"""Recipes and benders as planning inputs, and what the geometry says of them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.catalogue.bridge import material_input, section_of
from farmbuild.catalogue.models import Material
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem, format_both, format_length
from farmbuild.mechanics import (
    LEVER_BELOW,
    BendRecipe,
    GeometryError,
    Hoop,
    SpringIn,
    StickChoice,
    TubeSection,
    bent_hoop,
    developed_length,
    flexibility,
    spring_in,
    sticks_for_span,
)
from farmbuild.planning.house import spec
from farmbuild.planning.house.fields import INCH, RECIPE_BY_NAME, RECIPE_FIELDS, FieldKind
from farmbuild.planning.house.recipes import bend_recipe, check_recipe, joint_problems

__all__ = [
    "INCH",
    "LEVER_BELOW",
    "RECIPE_BY_NAME",
    "RECIPE_FIELDS",
    "BendRecipe",
    "FieldKind",
    "GeometryError",
    "Hoop",
    "Problems",
    "SpringIn",
    "StickChoice",
    "TubeSection",
    "bender_problems",
    "bent_hoop",
    "both",
    "developed_length",
    "flexibility",
    "free_span",
    "in_both",
    "join_problems",
    "kink_warning",
    "recipe_input",
    "recipe_problems",
    "recipe_warnings",
    "say",
    "section_of",
    "spring_in",
    "sticks_for_span",
    "to_decimal",
    "work_out",
]

#: A bend tighter than this many outside diameters commonly kinks thin-walled pipe (common practice, no source).
TIGHTEST_IN_DIAMETERS = 10


def recipe_input(recipe: Recipe) -> spec.Recipe:
    """``recipe`` comes with its tube loaded."""
    geometry = {name: getattr(recipe, name) for name in RECIPE_BY_NAME}
    return spec.Recipe(**(geometry | {"name": recipe.name, "tube": recipe.tube.code}))


def say(length: Decimal | float, units: UnitSystem | str) -> str:
    """A length in mm as the reader says it."""
    return format_length(to_decimal(length), UnitSystem(units))


def both(length: Decimal | float, units: UnitSystem | str) -> str:
    """A length in mm in the reader's units, and in the other."""
    return " · ".join(format_both(to_decimal(length), UnitSystem(units)))


def in_both(length: Decimal | float, units: UnitSystem | str) -> tuple[str, str]:
    """A length in mm in the reader's units, and in the other, apart."""
    return format_both(to_decimal(length), UnitSystem(units))


def to_decimal(length: Decimal | float) -> Decimal:
    """mm to six places."""
    return length if isinstance(length, Decimal) else Decimal(repr(round(length, 6)))


def work_out(recipe: Recipe) -> BendRecipe:
    """The geometry of a recipe without ``recipe_problems``."""
    return bend_recipe(recipe_input(recipe))


def free_span(recipe: Recipe) -> Decimal | None:
    """Between the ends of the hoop standing free, mm; None for a recipe that makes no hoop."""
    try:
        return to_decimal(work_out(recipe).hoop.span)
    except GeometryError:
        return None


@dataclass
class Problems:
    """Messages by field, as they are found."""

    found: dict[str, list[str]]

    def add(self, field: str, message: str) -> None:
        self.found.setdefault(field, []).append(message)


def recipe_problems(recipe: Recipe) -> dict[str, list[str]]:
    """Messages by field, in the organisation's units; empty when the hoop can be made."""
    tube, units = material_input(recipe.tube), UnitSystem(recipe.organisation.unit_system)
    problems = Problems({})
    for problem in check_recipe(recipe_input(recipe), {tube.code: tube}, units):
        problems.add(problem.part, problem.message)
    return problems.found


def join_problems(
    sticks: int, stick_length: Decimal, insertion: Decimal, tube: Material | None, units: UnitSystem | str
) -> dict[str, list[str]]:
    """Messages by field where sticks cannot be joined so; any swaged tube where ``tube`` is None."""
    problems = Problems({})
    given = tube and material_input(tube)
    for problem in joint_problems(sticks, stick_length, insertion, given, units=UnitSystem(units)):
        problems.add(problem.part, problem.message)
    return problems.found


def kink_warning(radius: Decimal, tube: Material, units: UnitSystem | str) -> str:
    """In words where a bend is tighter than thin pipe commonly bears, with the numbers; empty where it is not."""
    width = tube.width
    if not width or radius >= TIGHTEST_IN_DIAMETERS * width:
        return ""
    least = say(TIGHTEST_IN_DIAMETERS * width, units)
    return (
        f"A radius of {say(radius, units)} is tight for {tube.name}, {say(width, units)} across:"
        f" pipe commonly kinks below {TIGHTEST_IN_DIAMETERS} times its diameter, here {least} (common practice,"
        " no source). Bend one stick for trial first."
    )


def recipe_warnings(recipe: Recipe) -> list[str]:
    """What may go wrong though it can be made."""
    warning = kink_warning(recipe.radius, recipe.tube, recipe.organisation.unit_system)
    return [warning] if warning else []


def bender_problems(bender: Bender) -> dict[str, list[str]]:
    """Messages by field, in the organisation's units; empty when there can be such a bender."""
    units = bender.organisation.unit_system
    return {
        name: [f"A {what} of {say(getattr(bender, name), units)} bends nothing. Type a length above zero."]
        for name, what in (("rated_radius", "radius"), ("rated_span", "span"))
        if getattr(bender, name) <= 0
    }
