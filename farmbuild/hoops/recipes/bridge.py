"""Recipes as planning inputs, and what the geometry says of them."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.catalogue.bridge import material_input, section_of
from farmbuild.common.field_problems import FieldProblems
from farmbuild.common.lengths import to_decimal
from farmbuild.hoops.benders.bridge import kink_warning
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem
from farmbuild.mechanics import LEVER_BELOW, BendRecipe, BentHoop, GeometryError, LeftOff, Pull, TubeSection, spring_in
from farmbuild.planning.house import spec, spring
from farmbuild.planning.house.fields import INCH, RECIPE_BY_NAME, RECIPE_FIELDS, FieldKind
from farmbuild.planning.house.recipes import check_recipe, left_off_words, sleeve_remarks
from farmbuild.planning.house.shape import bend_recipe
from farmbuild.planning.house.spec import Joint
from farmbuild.planning.house.spring import NEARLY_STRAIGHT, most_spring_in, stress_text
from farmbuild.planning.materials import Material

__all__ = [
    "INCH",
    "LEVER_BELOW",
    "NEARLY_STRAIGHT",
    "RECIPE_FIELDS",
    "BendRecipe",
    "BentHoop",
    "FieldKind",
    "Joint",
    "LeftOff",
    "Pull",
    "TubeSection",
    "bend_recipe_of",
    "free_span",
    "left_off_words",
    "materials_of",
    "most_spring_in",
    "recipe_input",
    "recipe_problems",
    "recipe_warnings",
    "section_of",
    "set_warning",
    "sleeved",
    "spring_in",
    "spring_range",
    "spring_remarks",
    "stress_text",
    "wanted_spring_in",
]


def recipe_input(recipe: Recipe) -> spec.Recipe:
    """``recipe`` comes with its tubes loaded."""
    values = {name: getattr(recipe, name) for name in RECIPE_BY_NAME}
    named = {
        "name": recipe.name,
        "tube": recipe.tube.code,
        "joint": spec.Joint(recipe.joint),
        "sleeve_material": recipe.sleeve_material.code if recipe.sleeve_material else "",
    }
    return spec.Recipe(**(values | named))


def sleeved(recipe: Recipe) -> bool:
    """Whether a sleeve joins its sticks."""
    return recipe_input(recipe).sleeved


def materials_of(recipe: Recipe) -> dict[str, Material]:
    """The tubes that it names, by code."""
    return {tube.code: material_input(tube) for tube in (recipe.tube, recipe.sleeve_material) if tube}


def bend_recipe_of(recipe: Recipe) -> BendRecipe:
    """The geometry of a recipe without ``recipe_problems``."""
    return bend_recipe(recipe_input(recipe))


def free_span(recipe: Recipe) -> Decimal | None:
    """Between the ends of the hoop standing free, mm; None for a recipe that makes no hoop."""
    try:
        return to_decimal(bend_recipe_of(recipe).hoop.span)
    except GeometryError:
        return None


def recipe_problems(recipe: Recipe) -> dict[str, list[str]]:
    """Messages by field, in the organisation's units; empty when the hoop can be made."""
    problems = FieldProblems({})
    for problem in check_recipe(recipe_input(recipe), materials_of(recipe), _units(recipe)):
        problems.add(problem.part, problem.message)
    return problems.found


def recipe_warnings(recipe: Recipe) -> list[str]:
    """What may go wrong though it can be made."""
    warning = kink_warning(recipe.radius, recipe.tube, recipe.organisation.unit_system)
    sleeves = sleeve_remarks(recipe_input(recipe), materials_of(recipe), _units(recipe))
    return [*([warning] if warning else []), *sleeves]


def _units(recipe: Recipe) -> UnitSystem:
    return UnitSystem(recipe.organisation.unit_system)


def spring_range(recipe: Recipe, post_span: Decimal | None, units: UnitSystem | str) -> str:
    """How far its hoop may be sprung in, as tube and radius allow, in sentences."""
    return spring.range_words(bend_recipe_of(recipe).hoop, material_input(recipe.tube), post_span, UnitSystem(units))


def set_warning(recipe: Recipe, hoop: BentHoop, inward: Decimal) -> str:
    """That the pipe stays bent when ``hoop`` is sprung in so far, with the numbers; else empty."""
    return spring.set_words(hoop, material_input(recipe.tube), inward, _units(recipe))


def spring_remarks(recipe: Recipe, hoop: BentHoop, inward: Decimal) -> list[str]:
    """The same, and that nobody can say where no yield is stated."""
    return spring.spring_remarks(hoop, material_input(recipe.tube), inward, _units(recipe))


def wanted_spring_in(recipe: Recipe) -> Decimal:
    """Where nobody says otherwise, mm."""
    limit = spring.springs_back(bend_recipe_of(recipe).hoop, spring.section_of(material_input(recipe.tube)))
    return spring.wanted_spring_in(limit, _units(recipe))
