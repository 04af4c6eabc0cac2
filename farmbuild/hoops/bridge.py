"""Recipes and benders as planning inputs, and what the geometry says of them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.catalogue.bridge import section_of
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
from farmbuild.mechanics.recipe import MAX_MARKS
from farmbuild.planning.house import spec

__all__ = [
    "LEVER_BELOW",
    "BendRecipe",
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
#: Fields of the geometry that are called the same in Recipe, so that a refusal lands there.
_PARTS = frozenset(("stick_length", "sticks", "insertion", "radius", "first_mark", "pitch", "stop_gap"))


def recipe_input(recipe: Recipe) -> spec.Recipe:
    """``recipe`` comes with its tube loaded."""
    return spec.Recipe(
        name=recipe.name,
        tube=recipe.tube.code,
        stick_length=recipe.stick_length,
        sticks=recipe.sticks,
        insertion=recipe.insertion,
        radius=recipe.radius,
        first_mark=recipe.first_mark,
        pitch=recipe.pitch,
        stop_gap=recipe.stop_gap,
    )


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
    return BendRecipe(
        stick_length=recipe.stick_length,
        sticks=recipe.sticks,
        insertion=recipe.insertion,
        radius=recipe.radius,
        first_mark=recipe.first_mark,
        pitch=recipe.pitch,
        stop_gap=recipe.stop_gap,
    )


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
    units = recipe.organisation.unit_system
    stick = say(recipe.stick_length, units)
    problems = Problems({})
    for field, what in (
        ("stick_length", "stick"),
        ("radius", "bend radius"),
        ("pitch", "distance between marks"),
    ):
        if getattr(recipe, field) <= 0:
            problems.add(field, f"The {what} is {say(getattr(recipe, field), units)}. Type a length above zero.")
    if problems.found:
        return problems.found
    if recipe.insertion >= recipe.stick_length:
        problems.add(
            "insertion",
            f"An insertion of {say(recipe.insertion, units)} is no shorter than the stick of {stick}."
            f" Type less than {stick}.",
        )
    if recipe.first_mark >= recipe.stick_length:
        problems.add(
            "first_mark",
            f"The first mark at {say(recipe.first_mark, units)} is off the stick of {stick}, which leaves no marks"
            f" to pull at. Type less than {stick}.",
        )
    elif (recipe.stick_length - recipe.first_mark) / recipe.pitch > MAX_MARKS:
        problems.add(
            "pitch",
            f"Marks every {say(recipe.pitch, units)} make more than {MAX_MARKS} on a stick of {stick}."
            " Type a longer distance.",
        )
    if recipe.stop_gap >= recipe.pitch:
        problems.add(
            "stop_gap",
            f"Stopping {say(recipe.stop_gap, units)} short leaves nothing of a pull of {say(recipe.pitch, units)}."
            f" Type less than {say(recipe.pitch, units)}.",
        )
    if recipe.sticks > 1 and not recipe.tube.swaged:
        problems.add(
            "tube",
            f"The hoop joins {recipe.sticks} sticks, and {recipe.tube.name} has no swaged end to slide into the next."
            " Choose a swaged tube, or type 1 stick.",
        )
    elif recipe.sticks > 1 and recipe.insertion == 0:
        problems.add(
            "insertion",
            f"The hoop joins {recipe.sticks} sticks with no insertion. Type how far the swaged end slides in,"
            f" for example {say(Decimal('101.6'), units)}.",
        )
    if not problems.found:
        try:
            work_out(recipe)
        except GeometryError as error:
            problems.add(error.part if error.part in _PARTS else "radius", str(error))
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
