"""A batch and its trial hoops as the geometry sees them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from django.utils.translation import gettext, gettext_noop

from farmbuild.common.field_problems import FieldProblems
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.benders.made_hoops import INCH
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.bridge import (
    bend_recipe_of,
    free_span,
    most_spring_in,
    set_warning,
    spring_range,
    spring_remarks,
    wanted_spring_in,
)
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import ByUnits, UnitSystem, in_units
from farmbuild.mechanics import BendRecipe, BentHoop, Judgement, Target, Verdict, judge

__all__ = [
    "BendRecipe",
    "BentHoop",
    "Judgement",
    "Verdict",
    "batch_problems",
    "batch_warnings",
    "bend_of",
    "judge_trial",
    "measured_hoop",
    "own_spring_in",
    "range_words",
    "trial_problems",
    "unknown_set",
    "wanted_bend",
    "wanted_hoop",
]

_NO_SPAN = ByUnits(
    gettext_noop("Type how far apart the ground posts stand, centre to centre, for example 12'."),
    gettext_noop("Type how far apart the ground posts stand, centre to centre, for example 5 m."),
)


def bend_of(batch: HoopBatch, gap: Decimal | None = None) -> BendRecipe:
    """The batch's recipe, with the stop gap of the batch or the one given."""
    gap = batch.stop_gap if gap is None else gap
    return replace(bend_recipe_of(batch.recipe), stop_gap=gap, all_along=not batch.by_pulls)


def own_spring_in(recipe: Recipe, post_span: Decimal) -> Decimal:
    """What the recipe's free span leaves over the posts, to the half inch or 10 mm; the usual where it leaves none."""
    step = INCH / 2 if recipe.organisation.unit_system == UnitSystem.IMPERIAL else Decimal(10)
    over = (free_span(recipe) or Decimal(0)) - post_span
    return (over / step).to_integral_value() * step if over >= step else wanted_spring_in(recipe)


def batch_problems(recipe: Recipe, post_span: Decimal, spring_in: Decimal) -> dict[str, list[str]]:
    """Messages by field where no hoop of the recipe can have that free span."""
    units, pipe = recipe.organisation.unit_system, bend_recipe_of(recipe).developed
    if post_span <= 0:
        return {"post_span": [gettext(in_units(_NO_SPAN, units))]}
    if post_span >= pipe:
        return {
            "post_span": [
                f"Posts {length_text(post_span, units)} apart are no nearer than the"
                f" {length_text(pipe, units)} of pipe in a hoop, so nothing is left to bend. Type less than"
                f" {length_text(pipe, units)}."
            ]
        }
    if post_span + spring_in >= pipe:
        most = pipe - post_span
        return {
            "spring_in": [
                f"A free span of {length_text(post_span + spring_in, units)} is no shorter than the"
                f" {length_text(pipe, units)} of pipe in a hoop. Type less than {length_text(most, units)}."
            ]
        }
    if spring_in > (allowed := most_spring_in(post_span)):
        return {
            "spring_in": [
                f"Springing in more than {length_text(allowed, units)} is not allowed for. Type"
                f" {length_text(allowed, units)} or less."
            ]
        }
    return {}


def range_words(recipe: Recipe, post_span: Decimal | None) -> str:
    """How far hoops of the recipe may be sprung in, in sentences."""
    return spring_range(recipe, post_span, recipe.organisation.unit_system)


def batch_warnings(
    recipe: Recipe,
    bend: BendRecipe,
    bender: Bender,
    measured: Decimal | None,
    post_span: Decimal,
    wanted: Decimal,
    tolerance: Decimal,
) -> list[tuple[str, str]]:
    """(what, why with numbers) of what may go wrong with sizes that ``batch_problems`` lets pass.

    ``measured``: the radius of the bender's last accepted trial hoop in that tube, if any.
    """
    units, target = recipe.organisation.unit_system, post_span + wanted
    aimed = bend.hoop_over(float(target))
    found = []
    radii = {f"{bender.name}, {'measured' if measured else 'rated'} for": measured or bender.rated_radius}
    if recipe.radius not in radii.values():
        radii["The recipe, worked for"] = recipe.radius
    for whose, radius in radii.items():
        made = to_decimal(bend.hoop_on(float(radius)).span)
        if abs(off := made - target) > tolerance:
            found.append(
                (
                    "Another span",
                    f"{whose} a radius of {length_text(radius, units)}, makes a free span of"
                    f" {length_text(made, units)} from {length_text(bend.developed, units)} of pipe:"
                    f" {length_text(abs(off), units)}"
                    f" {'more' if off > 0 else 'less'} than the {length_text(target, units)} wanted, which"
                    f" takes a radius of {length_text(aimed.radius, units)}.",
                )
            )
    return [*found, *([("Takes a set", words)] if (words := set_warning(recipe, aimed, wanted)) else [])]


def unknown_set(recipe: Recipe, bend: BendRecipe, wanted: Decimal) -> list[tuple[str, str]]:
    """That nobody can say whether the hoop takes a set, where its tube has no stated yield."""
    if set_warning(recipe, bend.hoop, wanted):
        return []
    return [("Stays bent?", words) for words in spring_remarks(recipe, bend.hoop, wanted)]


def trial_problems(batch: HoopBatch, trial: TrialHoop) -> dict[str, list[str]]:
    """Messages by field for measures that this hoop cannot have."""
    units, bend = batch.organisation.unit_system, bend_of(batch)
    pipe, problems = bend.developed, FieldProblems({})
    if trial.free_span <= 0:
        problems.add("free_span", "Type the span between the ends of the hoop, measured standing free.")
    elif trial.free_span >= pipe:
        problems.add(
            "free_span",
            f"The joined sticks are {length_text(pipe, units)} long, so their ends cannot stand"
            f" {length_text(trial.free_span, units)} apart. Measure again from end to end of the hoop.",
        )
    if trial.rise <= 0:
        problems.add("rise", "Type the rise from the line through the ends to the crown.")
    elif not problems.found:
        reach = ((trial.free_span / 2) ** 2 + trial.rise**2).sqrt() * 2
        if reach > pipe:
            highest = ((pipe / 2) ** 2 - (trial.free_span / 2) ** 2).sqrt()
            problems.add(
                "rise",
                f"Over a span of {length_text(trial.free_span, units)} a rise of"
                f" {length_text(trial.rise, units)} takes at least {length_text(reach, units)} of pipe and the"
                f" hoop has {length_text(pipe, units)}: it cannot rise more than"
                f" {length_text(highest, units)}. Measure both again.",
            )
    if trial.last_gap is not None and trial.last_gap >= bend.pitch:
        problems.add(
            "last_gap",
            f"A stop gap of {length_text(trial.last_gap, units)} leaves nothing of a pull of"
            f" {length_text(bend.pitch, units)}. Type what was between pipe and bender when the last pull ended.",
        )
    if trial.twist is not None and trial.twist >= pipe:
        problems.add("twist", f"The whole hoop is {length_text(pipe, units)} of pipe. Type how far one end lifts.")
    return problems.found


def judge_trial(batch: HoopBatch, trial: TrialHoop) -> Judgement:
    """Against the target that it was measured for; from the gap really left, where that was measured."""
    target = Target(
        free_span=trial.target_span,
        span_tolerance=batch.span_tolerance,
        rise_tolerance=batch.rise_tolerance,
        twist_tolerance=batch.twist_tolerance,
    )
    bend = bend_of(batch, trial.stop_gap if trial.last_gap is None else trial.last_gap)
    return judge(bend, target, trial.free_span, trial.rise, trial.twist or Decimal(0))


def wanted_bend(batch: HoopBatch) -> BendRecipe:
    """The batch's recipe with its stop gap; one that is bent all along is on the radius that makes the span wanted."""
    bend = bend_of(batch)
    if not bend.all_along:
        return bend
    return replace(bend, radius=to_decimal(bend.hoop_over(float(batch.post_span + batch.spring_in)).radius))


def wanted_hoop(batch: HoopBatch) -> BentHoop:
    """As the trial hoop should stand."""
    return measured_hoop(batch, batch.post_span + batch.spring_in)


def measured_hoop(batch: HoopBatch, span: Decimal) -> BentHoop:
    """What the batch's pulls make when they come out on the one radius that gives that span."""
    return bend_of(batch).hoop_over(float(span))
