"""What a recipe page shows: figures with their working, marks, drawings."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from math import degrees

from django.utils.safestring import SafeString

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.hoops.recipes.bridge import BendRecipe, bend_recipe_of, recipe_problems, recipe_warnings
from farmbuild.hoops.recipes.drawings import HoopDrawing, lever_mark, lever_words, unpulled_words
from farmbuild.hoops.recipes.models import Recipe


@dataclass(frozen=True)
class Mark:
    """``at`` from the swaged end, ``left`` to pull on, mm. ``left_out``: on which sticks it is not pulled, in words."""

    number: int
    at: Decimal
    left: Decimal
    lever: bool
    left_out: str = ""


@dataclass(frozen=True)
class RecipePage:
    """``problems`` come from a stored recipe that no longer makes a hoop; nothing else is there then."""

    problems: list[str]
    warnings: list[str] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    free_span: Decimal = Decimal(0)
    rise: Decimal = Decimal(0)
    #: Marks on each stick, and pulls in the whole hoop: marks on straight legs are not pulled.
    pulls: int = 0
    pulls_in_hoop: int = 0
    unpulled: str = ""
    lever: str = ""
    hoop: SafeString | None = None
    stick: SafeString | None = None


def _left_out(bend: BendRecipe, number: int) -> str:
    sticks = [str(stick) for stick, numbers in enumerate(bend.unpulled, 1) if number in numbers]
    if not sticks:
        return ""
    return "not pulled" if bend.sticks == 1 else f"not pulled on stick {' and '.join(sticks)}"


def _figures(bend: BendRecipe, units: str) -> list[Figure]:
    text, hoop = partial(length_text, units=units), bend.hoop
    half = f"half the bent angle is {hoop.half_angle:.4f} rad"
    joined = f"{bend.sticks} x {text(bend.stick_length)} less {bend.sticks - 1} x {text(bend.insertion)} of insertion"
    pulls, unpulled = len(bend.marks), unpulled_words(bend, units)
    turned = bend.pulls_in_hoop * bend.degrees_a_pull
    return [
        Figure("Pipe in one hoop", f"{joined}.", length=bend.developed),
        Figure(
            "Marks on each stick",
            f"A mark {text(bend.first_mark)} from the swaged end and one every {text(bend.pitch)} after it, as long as"
            f" they lie on the stick of {text(bend.stick_length)}.",
            text=str(pulls),
        ),
        Figure(
            "Pulls in one hoop",
            f"{pulls} marks x {bend.sticks} stick{'s' if bend.sticks > 1 else ''}"
            + (f", less {pulls * bend.sticks - bend.pulls_in_hoop} on straight legs. {unpulled}" if unpulled else ".")
            + f" Together they turn the pipe by {turned:.1f}° at most; the arc of the hoop turns"
            f" {degrees(2 * hoop.half_angle):.1f}°.",
            text=str(bend.pulls_in_hoop),
        ),
        Figure(
            "Bend at each pull",
            f"Distance between marks {text(bend.pitch)} over radius {text(bend.radius)} ="
            f" {bend.radians_a_pull:.4f} rad, x 180 / pi.",
            text=f"{bend.degrees_a_pull:.2f}° ({bend.radians_a_pull:.4f} rad)",
        ),
        Figure(
            "Stop gap",
            "A gap kept at the end of each pull guards against over-bending; about 1 in is common practice, no source.",
            length=bend.stop_gap,
        ),
        Figure(
            "Free span",
            f"2 x {text(bend.radius)} x sin of half the bent angle; {half}.",
            length=to_decimal(hoop.span),
        ),
        Figure(
            "Rise",
            f"{text(bend.radius)} x (1 - cos of half the bent angle) + leg {text(hoop.leg)}; {half}.",
            length=to_decimal(hoop.rise),
        ),
        Figure(
            "Straight leg at each end",
            f"Pipe {text(bend.developed)} less a half circle on {text(bend.radius)}, shared over two ends; none when"
            " the pipe is shorter than the half circle.",
            length=to_decimal(hoop.leg),
        ),
    ]


def recipe_page(recipe: Recipe) -> RecipePage:
    """``recipe`` comes with its tube and organisation loaded."""
    units = recipe.organisation.unit_system
    if problems := recipe_problems(recipe):
        return RecipePage([message for messages in problems.values() for message in messages])
    bend = bend_recipe_of(recipe)
    lever = lever_mark(bend, recipe.lever_length)
    draw = HoopDrawing(bend, recipe.name, units, recipe.lever_length, recipe.tube.swaged)
    return RecipePage(
        problems=[],
        warnings=recipe_warnings(recipe),
        figures=_figures(bend, units),
        marks=[
            Mark(number, at, bend.stick_length - at, lever is not None and at >= lever, _left_out(bend, number))
            for number, at in enumerate(bend.marks, 1)
        ],
        free_span=to_decimal(bend.hoop.span),
        rise=to_decimal(bend.hoop.rise),
        pulls=len(bend.marks),
        pulls_in_hoop=bend.pulls_in_hoop,
        unpulled=unpulled_words(bend, units),
        lever=lever_words(bend, units, recipe.lever_length),
        hoop=draw.hoop(),
        stick=draw.stick(),
    )
