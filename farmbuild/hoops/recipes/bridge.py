"""Recipes as planning inputs, and what the geometry says of them."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.catalogue.bridge import material_input, section_of
from farmbuild.common.field_problems import FieldProblems
from farmbuild.common.lengths import to_decimal
from farmbuild.hoops.benders.bridge import kink_warning
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem
from farmbuild.mechanics import LEVER_BELOW, BendRecipe, GeometryError, TubeSection, flexibility, spring_in
from farmbuild.planning.house import spec
from farmbuild.planning.house.fields import INCH, RECIPE_BY_NAME, RECIPE_FIELDS, FieldKind
from farmbuild.planning.house.recipes import bend_recipe, check_recipe

__all__ = [
    "INCH",
    "LEVER_BELOW",
    "RECIPE_FIELDS",
    "BendRecipe",
    "FieldKind",
    "TubeSection",
    "bend_recipe_of",
    "flexibility",
    "free_span",
    "recipe_input",
    "recipe_problems",
    "recipe_warnings",
    "section_of",
    "spring_in",
]


def recipe_input(recipe: Recipe) -> spec.Recipe:
    """``recipe`` comes with its tube loaded."""
    geometry = {name: getattr(recipe, name) for name in RECIPE_BY_NAME}
    return spec.Recipe(**(geometry | {"name": recipe.name, "tube": recipe.tube.code}))


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
    tube, units = material_input(recipe.tube), UnitSystem(recipe.organisation.unit_system)
    problems = FieldProblems({})
    for problem in check_recipe(recipe_input(recipe), {tube.code: tube}, units):
        problems.add(problem.part, problem.message)
    return problems.found


def recipe_warnings(recipe: Recipe) -> list[str]:
    """What may go wrong though it can be made."""
    warning = kink_warning(recipe.radius, recipe.tube, recipe.organisation.unit_system)
    return [warning] if warning else []
