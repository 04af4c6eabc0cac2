"""Whether a hoop can be made as its recipe says: the one place that rules it, for houses, recipes and workbooks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_length, join_words
from farmbuild.measure.speech import gettext_noop, joined, sentence
from farmbuild.mechanics import MIN_PAST_MARK, BendRecipe, GeometryError, LeftOff
from farmbuild.mechanics.recipe import MAX_MARKS
from farmbuild.planning.house.context import SpecProblem
from farmbuild.planning.house.limits import recipe_limits
from farmbuild.planning.house.shape import bend_recipe
from farmbuild.planning.house.sleeves import Joining
from farmbuild.planning.house.spec import SLEEVES, Joint, Recipe
from farmbuild.planning.materials import Material

#: Of an insertion: 4 in (common practice, no source).
_EXAMPLE = Decimal("101.6")


def check_recipe(recipe: Recipe, materials: Mapping[str, Material], units: UnitSystem) -> list[SpecProblem]:
    """Say what keeps a hoop from being made; an empty list: nothing does. ``part`` is a field of Recipe.

    Sizes and counts are looked at first, so that one mistyped number gives one message.
    """
    return recipe_limits(recipe, materials, units) or list(recipe_geometry(recipe, materials, units))


def left_off_words(bend: BendRecipe, units: UnitSystem) -> str:
    """As ``left_off_sentences``, in one text."""
    return joined(" ", left_off_sentences(bend, units))


def left_off_sentences(bend: BendRecipe, units: UnitSystem) -> list[str]:
    """Which marks of the pitch are not made and why; none where all are."""
    reasons: dict[str, list[str]] = {}
    for at, why in bend.left_off:
        reasons.setdefault(why.value, []).append(format_length(at, units))
    told: list[str] = [
        sentence(
            "No mark at %(places)s: %(why)s.",
            places=join_words(places),
            why=sentence(why if len(places) == 1 else _OF_MANY.get(why, why)),
        )
        for why, places in reasons.items()
    ]
    if LeftOff.SLEEVE in reasons and bend.clear > bend.first_mark:
        told.append(sentence("A first mark at %(mark)s bends up to the sleeve.", mark=format_length(bend.clear, units)))
    return told


#: Of several marks, where it is said another way.
_OF_MANY = {
    LeftOff.JOINT.value: gettext_noop("they lie in the joint, which a bend would spoil"),
    LeftOff.SLEEVE.value: gettext_noop("they would bend the end that has to stay straight for the sleeve"),
}


def recipe_geometry(recipe: Recipe, materials: Mapping[str, Material], units: UnitSystem) -> Iterator[SpecProblem]:
    """What is wrong with a recipe whose fields are right, each by itself."""
    if problems := list(_sizes(recipe, materials, units)):
        yield from problems
        return
    try:
        bend_recipe(recipe)
    except GeometryError as error:
        yield SpecProblem(
            "recipe",
            sentence(
                "Every mark lies inside a joint, or leaves less than %(min_past_mark)s of pipe past it, "
                "so nothing is pulled. Type another first mark.",
                min_past_mark=format_length(MIN_PAST_MARK, units),
            ),
            error.part,
        )


def _sizes(recipe: Recipe, materials: Mapping[str, Material], units: UnitSystem) -> Iterator[SpecProblem]:
    def say(length: Decimal) -> str:
        return format_length(length, units)

    stick = say(recipe.stick_length)
    if recipe.first_mark >= recipe.stick_length:
        yield SpecProblem(
            "recipe",
            sentence(
                "The first mark at %(first_mark)s is off the stick of %(stick)s, which leaves no marks "
                "to pull at. Type less than %(stick)s.",
                first_mark=say(recipe.first_mark),
                stick=stick,
            ),
            "first_mark",
        )
    elif (recipe.stick_length - recipe.first_mark) / recipe.pitch > MAX_MARKS:
        yield SpecProblem(
            "recipe",
            sentence(
                "Marks every %(pitch)s make more than %(max_marks)s on a stick of %(stick)s. Type a longer distance.",
                pitch=say(recipe.pitch),
                max_marks=MAX_MARKS,
                stick=stick,
            ),
            "pitch",
        )
    if recipe.stop_gap >= recipe.pitch:
        yield SpecProblem(
            "recipe",
            sentence(
                "A stop gap of %(stop_gap)s leaves nothing of a pull of %(pitch)s. Type less than %(pitch)s.",
                stop_gap=say(recipe.stop_gap),
                pitch=say(recipe.pitch),
            ),
            "stop_gap",
        )
    yield from joint_problems(
        recipe.sticks,
        recipe.stick_length,
        recipe.insertion,
        materials[recipe.tube],
        units=units,
        joint=recipe.joint,
    )
    if joining := joining_of(recipe, materials, units):
        for part, message in joining.problems():
            yield SpecProblem("recipe", message, part)


def joining_of(recipe: Recipe, materials: Mapping[str, Material], units: UnitSystem) -> Joining | None:
    """How its sticks are joined by a sleeve; None where none joins them."""
    if not recipe.sleeved:
        return None
    return Joining(
        called=gettext_noop("hoops"),
        joint=recipe.joint,
        tube=materials[recipe.tube],
        sleeve=materials.get(recipe.sleeve_material),
        sleeve_length=recipe.sleeve_length,
        insertion=recipe.insertion,
        stick_length=recipe.stick_length,
        units=units,
    )


def sleeve_remarks(recipe: Recipe, materials: Mapping[str, Material], units: UnitSystem) -> list[str]:
    """What must be known of the sleeves of a recipe that passes ``check_recipe``."""
    joining = joining_of(recipe, materials, units)
    return list(joining.remarks()) if joining else []


def joint_problems(
    sticks: int,
    stick_length: Decimal,
    insertion: Decimal,
    tube: Material | None,
    *,
    units: UnitSystem,
    joint: Joint = Joint.SWAGE,
) -> Iterator[SpecProblem]:
    """What keeps the sticks of a hoop from being joined, but for a sleeve; ``tube`` is None where any will do."""
    if insertion >= stick_length:
        stick = format_length(stick_length, units)
        yield SpecProblem(
            "recipe",
            sentence(
                "An insertion of %(insertion)s is no shorter than the stick of %(stick)s. Type less than %(stick)s.",
                insertion=format_length(insertion, units),
                stick=stick,
            ),
            "insertion",
        )
    if sticks == 1 or joint in SLEEVES:
        return
    if joint == Joint.NONE:
        yield SpecProblem(
            "recipe",
            sentence(
                "The hoop is of %(sticks)s sticks that nothing joins. Choose how, or type 1 stick.", sticks=sticks
            ),
            "joint",
        )
    elif tube and not tube.swaged:
        yield SpecProblem(
            "recipe",
            sentence(
                "The hoop joins %(sticks)s sticks, and %(tube)s has no swaged end to slide into the "
                "next. Choose a swaged tube, join by a sleeve, or type 1 stick.",
                sticks=sticks,
                tube=tube.name,
            ),
            "tube",
        )
    elif insertion == 0:
        yield SpecProblem(
            "recipe",
            sentence(
                "The hoop joins %(sticks)s sticks with no insertion. Type how far the swaged end slides "
                "in, for example %(example)s.",
                sticks=sticks,
                example=format_length(_EXAMPLE, units),
            ),
            "insertion",
        )
