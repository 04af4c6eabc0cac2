"""Hoops: whole sticks, bent, joined by swage or sleeve, set and sighted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun, format_count
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.part import Part, PartWork, WorkKind
from farmbuild.planning.house.recipes import left_off_words, recipe_geometry, sleeve_remarks
from farmbuild.planning.house.shape import bend_recipe, ceil_ratio, free_span, recipe_length
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.spring import most_spring_in, sleeve_words, spring_remarks
from farmbuild.planning.results import TakeoffRow

MAX_HOOPS = 10_000
#: A hoop this much narrower than its posts is still pulled out by hand (common practice, no source): 1 in.
MAX_PULL_OUT = Decimal("25.4")


def rows(house: HouseContext) -> list[TakeoffRow]:
    recipe, shape = house.spec.recipe, house.shape
    total = shape.hoops * recipe.sticks
    working = (
        f"{house.say(shape.length)} at no more than {house.say(house.spec.spacing_wanted)} makes"
        f" {count_noun(shape.bays, 'bay')} of {house.say(shape.spacing)}, so {shape.hoops} hoops;"
        f" {count_noun(recipe.sticks, 'whole stick')} of {house.say(recipe.stick_length)} a hoop:"
        f" {shape.hoops} x {recipe.sticks} = {total}"
    )
    if left_off := left_off_words(bend_recipe(recipe), house.units):
        working += f". {left_off}"
    found = [TakeoffRow(house.ref, "hoops", recipe.tube, recipe.stick_length, total, "sticks", True, working)]
    if recipe.sleeved:
        each = recipe.sticks - 1
        working = (
            f"{shape.hoops} hoops x {count_noun(each, 'joint')} = {joints(house)}, a sleeve of"
            f" {house.say(recipe.sleeve_length)} at each; the sticks butt and lose no length"
        )
        found.append(house.pieces("hoop sleeves", recipe.sleeve_material, recipe.sleeve_length, joints(house), working))
    return found


def joints(house: HouseContext) -> int:
    """In all hoops of the house."""
    return house.shape.hoops * (house.spec.recipe.sticks - 1)


@dataclass(frozen=True)
class SleevePlace:
    """A sleeve in section: (x from the middle, height above the ground) along it, mm; the joint is in its middle."""

    points: tuple[tuple[float, float], ...]


def sleeve_places(house: HouseContext) -> tuple[SleevePlace, ...]:
    recipe, shape = house.spec.recipe, house.shape
    if not recipe.sleeved:
        return ()
    reach, foot = float(recipe.sleeve_length) / 2, float(shape.foot_height)
    found = []
    for joint in map(float, bend_recipe(recipe).joints):
        places = [shape.arc.point_at(joint + share * reach) for share in (-1, -0.5, 0, 0.5, 1)]
        found.append(SleevePlace(tuple((x, foot + y) for x, y, _ in places)))
    return tuple(found)


def screws_a_joint(spec: HouseSpec) -> int:
    return spec.recipe.sleeve_screws if spec.recipe.sleeved else spec.screws_per_joint


# Checks


def sizes(house: SpecContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    yield from recipe_geometry(spec.recipe, house.materials, house.units)
    if spec.spacing_wanted > spec.length:
        yield SpecProblem(
            "spacing_wanted",
            f"A hoop spacing of {say(spec.spacing_wanted)} is longer than the house of {say(spec.length)}."
            f" Type {say(spec.length)} or less.",
        )
        return
    hoops = ceil_ratio(spec.length, spec.spacing_wanted) + 1
    if hoops > MAX_HOOPS:
        yield SpecProblem(
            "spacing_wanted",
            f"{say(spec.length)} at {say(spec.spacing_wanted)} makes {format_count(hoops)} hoops,"
            f" and {format_count(MAX_HOOPS)} is the most one"
            " house may have. Type a wider spacing.",
        )


def spans(house: SpecContext) -> Iterator[SpecProblem]:
    """Whether the hoop arches over the posts; asked of sizes that are right."""
    spec, say = house.spec, house.say
    developed = recipe_length(spec.recipe)
    less = "" if spec.recipe.sleeved else " less the insertions"
    if developed <= spec.post_span:
        yield SpecProblem(
            "post_span",
            f"The hoop is {say(developed)} of pipe along the curve ({spec.recipe.sticks} x"
            f" {say(spec.recipe.stick_length)}{less}), too short to arch over a post span of"
            f" {say(spec.post_span)}. Type a narrower span or choose a longer hoop.",
        )
        return
    free = free_span(spec.recipe)
    if free + MAX_PULL_OUT < spec.post_span:
        yield SpecProblem(
            "recipe",
            f"This recipe bends a hoop {say(free)} wide, {say(spec.post_span - free)} narrower than the post span of"
            f" {say(spec.post_span)}; a hoop can be pulled out {say(MAX_PULL_OUT)} at most. Choose a bender with a"
            " larger radius, a longer hoop or a narrower span.",
        )
    most = most_spring_in(spec.post_span)
    if free - spec.post_span > most:
        yield SpecProblem(
            "recipe",
            f"This recipe bends a hoop {say(free)} wide, {say(free - spec.post_span)} wider than the post span of"
            f" {say(spec.post_span)}; springing in more than {say(most)} is not allowed for. Choose a bender with a"
            " smaller radius or a wider span.",
        )


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    """Whether the hoop stays bent when it is sprung in."""
    recipe = house.spec.recipe
    material = house.materials[recipe.tube]
    for message in spring_remarks(bend_recipe(recipe).hoop, material, house.shape.spring_in, house.units):
        yield SpecProblem("recipe", message)
    if recipe.sleeved:
        sleeve, inward = house.materials[recipe.sleeve_material], house.shape.spring_in
        bend = bend_recipe(recipe)
        if message := sleeve_words(bend.hoop, bend.joints, material, sleeve, inward, house.units):
            yield SpecProblem("recipe", message)
    for message in sleeve_remarks(recipe, house.materials, house.units):
        yield SpecProblem("recipe", message)


# Work


def _mark(house: HouseContext) -> tuple[int, str]:
    hoops, sticks = house.shape.hoops, house.spec.recipe.sticks
    total = hoops * sticks
    bend = bend_recipe(house.spec.recipe)
    words = f"{hoops} hoops x {count_noun(sticks, 'stick')} = {total}, each with {count_noun(bend.pulls, 'mark')}"
    left_off = left_off_words(bend, house.units)
    return total, f"{words}. {left_off}" if left_off else words


def _pulls_in_hoop(house: HouseContext) -> tuple[int, str]:
    bend = bend_recipe(house.spec.recipe)
    words = f"{count_noun(bend.sticks, 'stick')} x {count_noun(bend.pulls, 'mark')}"
    if idle := bend.pulls * bend.sticks - bend.pulls_in_hoop:
        words += f" less {count_noun(idle, 'mark')} on straight legs"
    return bend.pulls_in_hoop, f"{words} = {count_noun(bend.pulls_in_hoop, 'pull')} a hoop"


def _trial(house: HouseContext) -> tuple[int, str]:
    pulls, words = _pulls_in_hoop(house)
    return pulls, f"One hoop: {words}. A trial that is spoilt takes as long again."


def _bend(house: HouseContext) -> tuple[int, str]:
    pulls, words = _pulls_in_hoop(house)
    rest = house.shape.hoops - 1
    return rest * pulls, (
        f"{house.shape.hoops} hoops less the trial hoop, which is the first of them, leaves {rest};"
        f" {words}: {rest} x {pulls} = {rest * pulls}"
    )


def _join(house: HouseContext) -> tuple[int, str]:
    each, total = house.spec.recipe.sticks - 1, joints(house)
    if not each:
        return 0, "Each hoop is one stick, so nothing is joined."
    by = f", each by {house.spec.recipe.joint}" if house.spec.recipe.sleeved else ""
    return total, f"{house.shape.hoops} hoops x {count_noun(each, 'joint')} = {total}{by}"


def _hoops(house: HouseContext) -> tuple[int, str]:
    return house.shape.hoops, f"{count_noun(house.shape.hoops, 'hoop')} in the house"


def _set(house: HouseContext) -> tuple[int, str]:
    count, words = _hoops(house)
    if depth := house.shape.socket_depth:
        where = "over its posts" if house.spec.hoop_over_post else "in its posts"
        words += f", each {house.say(depth)} {where}"
    return count, words


PART = Part(
    rows=rows,
    purposes={
        "hoops": (WorkKind.MARK, WorkKind.TRIAL, WorkKind.BEND, WorkKind.JOIN, WorkKind.SET),
        # Sawn with the rest or where they join: steps of a house without sleeves need not wait for the saw.
        "hoop sleeves": (WorkKind.SAW, WorkKind.TRIAL, WorkKind.JOIN),
    },
    sizes=sizes,
    remarks=remarks,
    works=(
        PartWork(WorkKind.MARK, (_("stick"), _("sticks")), _mark),
        PartWork(WorkKind.TRIAL, (_("pull"), _("pulls")), _trial),
        PartWork(WorkKind.BEND, (_("pull"), _("pulls")), _bend),
        PartWork(WorkKind.JOIN, (_("joint"), _("joints")), _join),
        PartWork(WorkKind.SET, (_("hoop"), _("hoops")), _set),
        PartWork(WorkKind.SIGHT, (_("hoop"), _("hoops")), _hoops),
    ),
)
