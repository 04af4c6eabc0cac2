"""What a recipe page shows: figures with their working, marks, drawings."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.common.speaking import said_count, said_list
from farmbuild.hoops.recipes.bridge import (
    DRAWN_PIPE,
    BendRecipe,
    Joint,
    bend_recipe_of,
    recipe_problems,
    recipe_warnings,
    sleeve_play,
    sleeve_warnings,
    sleeved,
)
from farmbuild.hoops.recipes.drawings import HoopDrawing, JointDrawing
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.stick_strip import stick_strips
from farmbuild.hoops.recipes.words import (
    end_words,
    joining_words,
    left_off_words,
    legs_words,
    lever_mark,
    lever_words,
    mark_words,
    part_words,
    pipe_words,
    pull_note,
    sleeve_text,
    unpulled_words,
)
from farmbuild.measure import format_decimal

#: Pulls listed one by one at most.
MAX_LISTED = 60


@dataclass(frozen=True)
class Mark:
    """``at`` from the end that goes in first, ``left`` to pull on, mm.

    ``left_out``: on which sticks it is not pulled, in words.
    """

    number: int
    at: Decimal
    left: Decimal
    lever: bool
    left_out: str = ""


@dataclass(frozen=True)
class PullRow:
    """One pull of the joined hoop: it bends the pipe ``start`` to ``end`` mm from the hoop's left end.

    ``less``: why it bends less than the pitch, in words.
    """

    stick: int
    mark: int
    start: Decimal
    end: Decimal
    turn: str
    less: str


@dataclass(frozen=True)
class RecipePage:
    """``problems`` come from a stored recipe that no longer makes a hoop; nothing else is there then."""

    problems: list[str]
    warnings: list[str] = field(default_factory=list)
    sleeve_warnings: list[str] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    free_span: Decimal = Decimal(0)
    rise: Decimal = Decimal(0)
    #: Marks on each stick, and pulls in the whole hoop: marks on straight legs are not pulled.
    pulls: int = 0
    pulls_in_hoop: int = 0
    #: What to do at the bender, a sentence or two each.
    steps: list[str] = field(default_factory=list)
    left_off: str = ""
    unpulled: str = ""
    end: str = ""
    pull_rows: list[PullRow] = field(default_factory=list)
    lever: str = ""
    hoop: SafeString | None = None
    stick: SafeString | None = None
    #: A sleeved joint; None where no sleeve joins the sticks.
    joint: SafeString | None = None
    #: How bent sticks are joined; empty for a hoop of one stick.
    joining: str = ""


def _left_out(bend: BendRecipe, number: int) -> str:
    sticks = [str(stick) for stick, numbers in enumerate(bend.unpulled, 1) if number in numbers]
    if not sticks:
        return ""
    return (
        gettext("not pulled")
        if bend.sticks == 1
        else gettext("not pulled on stick %(sticks)s") % {"sticks": said_list(sticks)}
    )


def _figures(recipe: Recipe, bend: BendRecipe, units: str, end: str) -> list[Figure]:
    text, hoop = partial(length_text, units=units), bend.hoop
    pulls, unpulled = len(bend.marks), unpulled_words(bend, units)
    turned = sum(map(bend.degrees_of, bend.pulled))
    left_off = left_off_words(bend, units)
    walked = gettext(
        "The ends of the pipe, walked pull by pull: each arc on %(radius)s and each straight between them."
    ) % {"radius": text(bend.radius)}
    return [
        Figure(gettext("Pipe in one hoop"), pipe_words(recipe, units), length=bend.developed),
        Figure(
            gettext("Marks on each stick"),
            (
                gettext(
                    "A mark %(first_mark)s from the %(end)s and one every %(pitch)s after it, as long as they "
                    "lie on the stick of %(stick_length)s. %(left_off)s"
                )
                % {
                    "first_mark": text(bend.first_mark),
                    "end": end,
                    "pitch": text(bend.pitch),
                    "stick_length": text(bend.stick_length),
                    "left_off": left_off,
                }
            ).strip(),
            text=str(pulls),
        ),
        Figure(
            gettext("Pulls in one hoop"),
            " ".join(
                filter(
                    None,
                    (
                        _pulls_counted(bend, pulls),
                        unpulled,
                        gettext("Together they turn the pipe by %(turned)s°.") % {"turned": format_decimal(turned, 1)},
                    ),
                )
            ),
            text=str(bend.pulls_in_hoop),
        ),
        Figure(
            gettext("Bend at each pull"),
            gettext(
                "Distance between marks %(pitch)s over radius %(radius)s = %(radians_a_pull)s rad, x 180 / "
                "pi; less where the pipe ends, a joint overlaps or the pull is a part pull."
            )
            % {
                "pitch": text(bend.pitch),
                "radius": text(bend.radius),
                "radians_a_pull": format_decimal(bend.radians_a_pull, 4),
            },
            text=f"{format_decimal(bend.degrees_a_pull, 2)}° ({format_decimal(bend.radians_a_pull, 4)} rad)",
        ),
        Figure(
            gettext("Stop gap"),
            gettext(
                "A gap kept at the end of each pull guards against over-bending; about 1 in is common practice, no"
                " source."
            ),
            length=bend.stop_gap,
        ),
        Figure(
            gettext("Free span"),
            walked,
            length=to_decimal(hoop.span),
        ),
        Figure(
            gettext("Rise"),
            gettext("From the line through the ends to the highest point of the same walk."),
            length=to_decimal(hoop.rise),
        ),
        Figure(
            gettext("Straight at the ends"),
            gettext("What no pull bends: %(legs_words)s.") % {"legs_words": legs_words(hoop, units)},
            text=said_list(text(leg) for leg in hoop.legs),
        ),
        *_straight_at_joints(recipe, bend, units),
    ]


def _pulls_counted(bend: BendRecipe, pulls: int) -> str:
    told = {"pulls": said_count(pulls, "mark"), "sticks": said_count(bend.sticks, "stick")}
    if less := pulls * bend.sticks - bend.pulls_in_hoop:
        return gettext("%(pulls)s x %(sticks)s, less %(less)s on straight legs.") % (told | {"less": less})
    return gettext("%(pulls)s x %(sticks)s.") % told


def _straight_at_joints(recipe: Recipe, bend: BendRecipe, units: str) -> list[Figure]:
    """Where a sleeve joins the sticks: what no pull bends at the first joint."""
    if not sleeved(recipe):
        return []
    joint = float(bend.joints[0])
    before = max((pull.end for pull in bend.pulled if pull.end <= joint), default=0.0)
    after = min((pull.start for pull in bend.pulled if pull.start >= joint), default=float(bend.developed))
    half = length_text(bend.sleeve / 2, units)
    return [
        Figure(
            gettext("Straight at each joint"),
            gettext(
                "%(joint)s before the joint and %(after)s after it. The sleeve needs %(half)s of each. "
                "Choose marks so that little more stays straight."
            )
            % {"joint": length_text(joint - before, units), "after": length_text(after - joint, units), "half": half},
            length=to_decimal(after - before),
        )
    ]


def _steps(recipe: Recipe, bend: BendRecipe, units: str) -> list[str]:
    end = end_words(recipe.tube.swaged)
    return [
        words
        for words in (
            mark_words(recipe.tube.swaged),
            gettext("The %(end)s goes into the bender first. Pull at each mark, down to a stop gap of %(stop_gap)s.")
            % {"end": end, "stop_gap": length_text(bend.stop_gap, units)},
            left_off_words(bend, units),
            unpulled_words(bend, units),
            part_words(bend, units),
            lever_words(bend, units, recipe.lever_length),
        )
        if words
    ]


def _pull_rows(bend: BendRecipe) -> list[PullRow]:
    return [
        PullRow(
            pull.stick,
            pull.number,
            to_decimal(pull.start),
            to_decimal(pull.end),
            f"{format_decimal(bend.degrees_of(pull), 2)}°",
            pull_note(bend, pull),
        )
        for pull in bend.pulled
    ]


def recipe_page(recipe: Recipe) -> RecipePage:
    """``recipe`` comes with its tube and organisation loaded."""
    units = recipe.organisation.unit_system
    if problems := recipe_problems(recipe):
        return RecipePage([message for messages in problems.values() for message in messages])
    bend = bend_recipe_of(recipe)
    lever, end = lever_mark(bend, recipe.lever_length), end_words(recipe.tube.swaged)
    draw = HoopDrawing(
        bend, recipe.name, units, recipe.lever_length, recipe.tube.swaged, sleeve=sleeve_text(recipe, units)
    )
    return RecipePage(
        problems=[],
        warnings=recipe_warnings(recipe),
        sleeve_warnings=sleeve_warnings(recipe),
        figures=_figures(recipe, bend, units, end),
        marks=[
            Mark(number, at, bend.stick_length - at, lever is not None and at >= lever, _left_out(bend, number))
            for number, at in enumerate(bend.marks, 1)
        ],
        free_span=to_decimal(bend.hoop.span),
        rise=to_decimal(bend.hoop.rise),
        pulls=len(bend.marks),
        pulls_in_hoop=bend.pulls_in_hoop,
        steps=_steps(recipe, bend, units),
        left_off=left_off_words(bend, units),
        unpulled=unpulled_words(bend, units),
        end=end,
        pull_rows=_pull_rows(bend) if bend.pulls_in_hoop <= MAX_LISTED else [],
        lever=lever_words(bend, units, recipe.lever_length),
        hoop=draw.hoop(),
        stick=stick_strips(bend, recipe.name, units, end, swaged=recipe.tube.swaged),
        joint=_joint(recipe, units),
        joining=joining_words(recipe, units),
    )


def _joint(recipe: Recipe, units: str) -> SafeString | None:
    tube, sleeve = recipe.tube, recipe.sleeve_material
    if not sleeved(recipe) or sleeve is None:
        return None
    return JointDrawing(
        name=recipe.name,
        units=units,
        tube=tube.name,
        sleeve=sleeve.name,
        inner=recipe.joint == Joint.INNER,
        tube_across=tube.width or DRAWN_PIPE,
        sleeve_across=sleeve.width or DRAWN_PIPE,
        length=recipe.sleeve_length,
        screws=recipe.sleeve_screws,
        play=sleeve_play(recipe),
    ).joint()
