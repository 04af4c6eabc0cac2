"""Recipes as planning inputs, and what the geometry says of them."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.catalogue.bridge import material_input, section_of
from farmbuild.common.field_problems import FieldProblems
from farmbuild.common.lengths import to_decimal
from farmbuild.hoops.benders.bridge import kink_warning
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem, format_length
from farmbuild.measure.speech import joined, sentence
from farmbuild.mechanics import LEVER_BELOW, BendRecipe, BentHoop, GeometryError, LeftOff, Pull, TubeSection, spring_in
from farmbuild.planning.house import context, spec, spring
from farmbuild.planning.house.fields import INCH, RECIPE_BY_NAME, RECIPE_FIELDS, FieldKind
from farmbuild.planning.house.parts.posts import DRAWN_PIPE
from farmbuild.planning.house.recipes import check_recipe, joining_of, left_off_sentences, sleeve_remarks
from farmbuild.planning.house.senses import SENSES
from farmbuild.planning.house.shape import bend_recipe
from farmbuild.planning.house.spec import Joint
from farmbuild.planning.house.spring import NEARLY_STRAIGHT, SleeveStress, most_spring_in, stress_text
from farmbuild.planning.materials import Material

__all__ = [
    "DRAWN_PIPE",
    "INCH",
    "LEVER_BELOW",
    "NEARLY_STRAIGHT",
    "RECIPE_FIELDS",
    "SENSES",
    "BendRecipe",
    "BentHoop",
    "FieldKind",
    "Joint",
    "LeftOff",
    "Pull",
    "TubeSection",
    "bend_recipe_of",
    "free_span",
    "left_off_sentences",
    "materials_of",
    "most_spring_in",
    "recipe_input",
    "recipe_problems",
    "recipe_warnings",
    "section_of",
    "set_warning",
    "size_text",
    "sleeve_play",
    "sleeve_stress_of",
    "sleeve_warnings",
    "sleeved",
    "spring_in",
    "spring_range",
    "spring_remarks",
    "spring_sentences",
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


def size_text(length: Decimal, units: UnitSystem | str) -> str:
    """A size across a tube, finer than a tape shows."""
    return context.size_text(length, UnitSystem(units))


def sleeve_play(recipe: Recipe) -> Decimal | None:
    """Room between sleeve and stick, mm; None where a size is unknown or no sleeve joins its sticks."""
    joining = joining_of(recipe_input(recipe), materials_of(recipe), _units(recipe))
    return joining.play() if joining else None


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
    return [warning] if warning else []


def sleeve_warnings(recipe: Recipe) -> list[str]:
    """What must be known of its sleeves."""
    return sleeve_remarks(recipe_input(recipe), materials_of(recipe), _units(recipe))


def sleeve_stress_of(recipe: Recipe, inward: Decimal) -> SleeveStress | None:
    """What its sleeve bears; None for a hoop without one, or of unknown sections."""
    joined = _joined(recipe)
    return spring.sleeve_stress(bend_recipe_of(recipe).hoop, *joined, inward) if joined else None


def _joined(recipe: Recipe) -> tuple[list[Decimal], Material, Material] | None:
    """Joints, tube and sleeve; None where no sleeve joins its sticks."""
    if not sleeved(recipe):
        return None
    return bend_recipe_of(recipe).joints, material_input(recipe.tube), material_input(recipe.sleeve_material)


def _units(recipe: Recipe) -> UnitSystem:
    return UnitSystem(recipe.organisation.unit_system)


def spring_range(recipe: Recipe, post_span: Decimal | None, units: UnitSystem | str) -> str:
    """As ``spring_sentences``, in one text."""
    return joined(" ", spring_sentences(recipe, post_span, units))


def spring_sentences(recipe: Recipe, post_span: Decimal | None, units: UnitSystem | str) -> list[str]:
    """How far its hoop may be sprung in, as tube and radius allow."""
    hoop, joined = bend_recipe_of(recipe).hoop, _joined(recipe)
    told = spring.range_sentences(hoop, material_input(recipe.tube), post_span, UnitSystem(units))
    most = spring.sleeve_springs_back(hoop, *joined) if joined else None
    if most is not None:
        length = format_length(most, UnitSystem(units))
        told.append(sentence("Its sleeve springs back from at most %(length)s.", length=length))
    return told


def set_warning(recipe: Recipe, hoop: BentHoop, inward: Decimal) -> str:
    """That pipe or sleeve stays bent when ``hoop`` is sprung in so far, with the numbers; else empty."""
    words = spring.set_words(hoop, material_input(recipe.tube), inward, _units(recipe))
    return " ".join(filter(None, (words, _sleeve_words(recipe, hoop, inward))))


def _sleeve_words(recipe: Recipe, hoop: BentHoop, inward: Decimal) -> str:
    joined = _joined(recipe)
    return spring.sleeve_words(hoop, *joined, inward, _units(recipe)) if joined else ""


def spring_remarks(recipe: Recipe, hoop: BentHoop, inward: Decimal) -> list[str]:
    """The same, and that nobody can say where no yield is stated."""
    found = spring.spring_remarks(hoop, material_input(recipe.tube), inward, _units(recipe))
    sleeve = _sleeve_words(recipe, hoop, inward)
    return [*found, sleeve] if sleeve else found


def wanted_spring_in(recipe: Recipe) -> Decimal:
    """Where nobody says otherwise, mm."""
    hoop, joined = bend_recipe_of(recipe).hoop, _joined(recipe)
    limits = [spring.springs_back(hoop, spring.section_of(material_input(recipe.tube)))]
    limits += [spring.sleeve_springs_back(hoop, *joined)] if joined else []
    return spring.wanted_spring_in(min(filter(None, limits), default=None), _units(recipe))
