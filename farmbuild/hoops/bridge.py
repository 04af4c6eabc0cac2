"""Recipes as planning inputs, and what the geometry says of them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.hoops.models import Recipe
from farmbuild.measure import UnitSystem, format_both, format_length
from farmbuild.mechanics import LEVER_BELOW, BendRecipe, GeometryError
from farmbuild.mechanics.recipe import MOST_MARKS
from farmbuild.planning import inputs

__all__ = [
    "LEVER_BELOW",
    "BendRecipe",
    "both",
    "free_span",
    "recipe_input",
    "recipe_problems",
    "recipe_warnings",
    "say",
    "work_out",
]

#: A bend tighter than this many outside diameters commonly kinks thin-walled pipe (common practice, no source).
TIGHTEST_IN_DIAMETERS = 10
#: Fields of the geometry that are called the same in Recipe, so that a refusal lands there.
_PARTS = frozenset(("stick_length", "sticks", "insertion", "radius", "first_mark", "pitch", "stop_gap"))


def recipe_input(recipe: Recipe) -> inputs.Recipe:
    """``recipe`` comes with its tube loaded."""
    return inputs.Recipe(
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
    return format_length(_decimal(length), UnitSystem(units))


def both(length: Decimal | float, units: UnitSystem | str) -> str:
    """A length in mm in the reader's units, and in the other."""
    return " · ".join(format_both(_decimal(length), UnitSystem(units)))


def _decimal(length: Decimal | float) -> Decimal:
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
        return _decimal(work_out(recipe).hoop.span)
    except GeometryError:
        return None


@dataclass
class _Problems:
    found: dict[str, list[str]]

    def add(self, field: str, message: str) -> None:
        self.found.setdefault(field, []).append(message)


def recipe_problems(recipe: Recipe) -> dict[str, list[str]]:
    """Messages by field, in the organisation's units; empty when the hoop can be made."""
    units = recipe.organisation.unit_system
    stick = say(recipe.stick_length, units)
    problems = _Problems({})
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
    elif (recipe.stick_length - recipe.first_mark) / recipe.pitch > MOST_MARKS:
        problems.add(
            "pitch",
            f"Marks every {say(recipe.pitch, units)} make more than {MOST_MARKS} on a stick of {stick}."
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


def recipe_warnings(recipe: Recipe) -> list[str]:
    """What may go wrong though it can be made."""
    units, width = recipe.organisation.unit_system, recipe.tube.width
    if width and recipe.radius < TIGHTEST_IN_DIAMETERS * width:
        least = say(TIGHTEST_IN_DIAMETERS * width, units)
        return [
            f"A radius of {say(recipe.radius, units)} is tight for {recipe.tube.name}, {say(width, units)} across:"
            f" pipe commonly kinks below {TIGHTEST_IN_DIAMETERS} times its diameter, here {least} (common practice,"
            " no source). Bend one stick for trial first."
        ]
    return []
