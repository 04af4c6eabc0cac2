"""Hoops: whole sticks, bent, joined by swage or sleeve, set and sighted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun, format_count
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import sentence
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
    working = sentence(
        "%(length)s at no more than %(spacing_wanted)s makes %(bays)s of %(spacing)s, so "
        "%(hoops)s hoops; %(whole_sticks)s of %(stick_length)s a hoop: %(hoops)s x %(sticks)s = "
        "%(total)s",
        length=house.say(shape.length),
        spacing_wanted=house.say(house.spec.spacing_wanted),
        bays=count_noun(shape.bays, "bay"),
        spacing=house.say(shape.spacing),
        hoops=shape.hoops,
        whole_sticks=count_noun(recipe.sticks, "whole stick"),
        stick_length=house.say(recipe.stick_length),
        sticks=recipe.sticks,
        total=total,
    )
    if left_off := left_off_words(bend_recipe(recipe), house.units):
        working += sentence(". %(left_off)s", left_off=left_off)
    found = [TakeoffRow(house.ref, "hoops", recipe.tube, recipe.stick_length, total, "sticks", True, working)]
    if recipe.sleeved:
        each = recipe.sticks - 1
        working = sentence(
            "%(hoops)s hoops x %(joints)s = %(joints_2)s, a sleeve of %(sleeve_length)s at each; the "
            "sticks butt and lose no length",
            hoops=shape.hoops,
            joints=count_noun(each, "joint"),
            joints_2=joints(house),
            sleeve_length=house.say(recipe.sleeve_length),
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
            sentence(
                "A hoop spacing of %(spacing_wanted)s is longer than the house of %(length)s. Type %(length)s or less.",
                spacing_wanted=say(spec.spacing_wanted),
                length=say(spec.length),
            ),
        )
        return
    hoops = ceil_ratio(spec.length, spec.spacing_wanted) + 1
    if hoops > MAX_HOOPS:
        yield SpecProblem(
            "spacing_wanted",
            sentence(
                "%(length)s at %(spacing_wanted)s makes %(hoops)s hoops, and %(max_hoops)s is the most "
                "one house may have. Type a wider spacing.",
                length=say(spec.length),
                spacing_wanted=say(spec.spacing_wanted),
                hoops=format_count(hoops),
                max_hoops=format_count(MAX_HOOPS),
            ),
        )


def spans(house: SpecContext) -> Iterator[SpecProblem]:
    """Whether the hoop arches over the posts; asked of sizes that are right."""
    spec, say = house.spec, house.say
    developed = recipe_length(spec.recipe)
    less = "" if spec.recipe.sleeved else " less the insertions"
    if developed <= spec.post_span:
        yield SpecProblem(
            "post_span",
            sentence(
                "The hoop is %(developed)s of pipe along the curve (%(sticks)s x "
                "%(stick_length)s%(less)s), too short to arch over a post span of %(post_span)s. Type a "
                "narrower span or choose a longer hoop.",
                developed=say(developed),
                sticks=spec.recipe.sticks,
                stick_length=say(spec.recipe.stick_length),
                less=less,
                post_span=say(spec.post_span),
            ),
        )
        return
    free = free_span(spec.recipe)
    if free + MAX_PULL_OUT < spec.post_span:
        yield SpecProblem(
            "recipe",
            sentence(
                "This recipe bends a hoop %(free)s wide, %(post_span)s narrower than the post span of "
                "%(post_span_2)s; a hoop can be pulled out %(max_pull_out)s at most. Choose a bender "
                "with a larger radius, a longer hoop or a narrower span.",
                free=say(free),
                post_span=say(spec.post_span - free),
                post_span_2=say(spec.post_span),
                max_pull_out=say(MAX_PULL_OUT),
            ),
        )
    most = most_spring_in(spec.post_span)
    if free - spec.post_span > most:
        yield SpecProblem(
            "recipe",
            sentence(
                "This recipe bends a hoop %(free)s wide, %(free_2)s wider than the post span of "
                "%(post_span)s; springing in more than %(most)s is not allowed for. Choose a bender with "
                "a smaller radius or a wider span.",
                free=say(free),
                free_2=say(free - spec.post_span),
                post_span=say(spec.post_span),
                most=say(most),
            ),
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
    words = sentence(
        "%(hoops)s hoops x %(sticks)s = %(total)s, each with %(marks)s",
        hoops=hoops,
        sticks=count_noun(sticks, "stick"),
        total=total,
        marks=count_noun(bend.pulls, "mark"),
    )
    left_off = left_off_words(bend, house.units)
    return total, sentence("%(words)s. %(left_off)s", words=words, left_off=left_off) if left_off else words


def _pulls_in_hoop(house: HouseContext) -> tuple[int, str]:
    bend = bend_recipe(house.spec.recipe)
    words = sentence(
        "%(sticks)s x %(marks)s", sticks=count_noun(bend.sticks, "stick"), marks=count_noun(bend.pulls, "mark")
    )
    if idle := bend.pulls * bend.sticks - bend.pulls_in_hoop:
        words += sentence(" less %(marks)s on straight legs", marks=count_noun(idle, "mark"))
    return bend.pulls_in_hoop, sentence(
        "%(words)s = %(pulls)s a hoop", words=words, pulls=count_noun(bend.pulls_in_hoop, "pull")
    )


def _trial(house: HouseContext) -> tuple[int, str]:
    pulls, words = _pulls_in_hoop(house)
    return pulls, sentence("One hoop: %(words)s. A trial that is spoilt takes as long again.", words=words)


def _bend(house: HouseContext) -> tuple[int, str]:
    pulls, words = _pulls_in_hoop(house)
    rest = house.shape.hoops - 1
    return rest * pulls, (
        sentence(
            "%(hoops)s hoops less the trial hoop, which is the first of them, leaves %(rest)s; "
            "%(words)s: %(rest)s x %(pulls)s = %(rest_2)s",
            hoops=house.shape.hoops,
            rest=rest,
            words=words,
            pulls=pulls,
            rest_2=rest * pulls,
        )
    )


def _join(house: HouseContext) -> tuple[int, str]:
    each, total = house.spec.recipe.sticks - 1, joints(house)
    if not each:
        return 0, sentence("Each hoop is one stick, so nothing is joined.")
    by = sentence(", each by %(joint)s", joint=sentence(house.spec.recipe.joint)) if house.spec.recipe.sleeved else ""
    return total, sentence(
        "%(hoops)s hoops x %(joints)s = %(total)s%(by)s",
        hoops=house.shape.hoops,
        joints=count_noun(each, "joint"),
        total=total,
        by=by,
    )


def _hoops(house: HouseContext) -> tuple[int, str]:
    return house.shape.hoops, sentence("%(hoops)s in the house", hoops=count_noun(house.shape.hoops, "hoop"))


def _set(house: HouseContext) -> tuple[int, str]:
    count, words = _hoops(house)
    if depth := house.shape.socket_depth:
        where = sentence("over its posts") if house.spec.hoop_over_post else sentence("in its posts")
        words += sentence(", each %(depth)s %(where)s", depth=house.say(depth), where=where)
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
