"""A batch and its trial hoops as the geometry sees them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from farmbuild.common.field_problems import FieldProblems
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.benders.made_hoops import INCH, USUAL_SPRING_IN
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.bridge import bend_recipe_of, free_span, section_of
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem
from farmbuild.mechanics import BendRecipe, Hoop, Judgement, Target, Verdict, bent_hoop, hoop_over, judge, spring_in

__all__ = [
    "BendRecipe",
    "Hoop",
    "Judgement",
    "Verdict",
    "batch_problems",
    "batch_warnings",
    "bend_of",
    "judge_trial",
    "measured_hoop",
    "own_spring_in",
    "trial_problems",
    "wanted_bend",
]

_KSI = 6.894757


def bend_of(batch: HoopBatch, gap: Decimal | None = None) -> BendRecipe:
    """The batch's recipe, with the stop gap of the batch or the one given."""
    return replace(bend_recipe_of(batch.recipe), stop_gap=batch.stop_gap if gap is None else gap)


def own_spring_in(recipe: Recipe, post_span: Decimal) -> Decimal:
    """What the recipe's free span leaves over the posts, to the half inch or 10 mm; the usual where it leaves none."""
    step = INCH / 2 if recipe.organisation.unit_system == UnitSystem.IMPERIAL else Decimal(10)
    over = (free_span(recipe) or Decimal(0)) - post_span
    return (over / step).to_integral_value() * step if over >= step else USUAL_SPRING_IN


def batch_problems(recipe: Recipe, post_span: Decimal, spring_in: Decimal) -> dict[str, list[str]]:
    """Messages by field where no hoop of the recipe can have that free span."""
    units, pipe = recipe.organisation.unit_system, bend_recipe_of(recipe).developed
    if post_span <= 0:
        return {"post_span": ["Type how far apart the ground posts stand, centre to centre, for example 12'."]}
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
    return {}


def batch_warnings(
    recipe: Recipe, bender: Bender, measured: Decimal | None, post_span: Decimal, wanted: Decimal, tolerance: Decimal
) -> list[tuple[str, str]]:
    """(what, why with numbers) of what may go wrong with sizes that ``batch_problems`` lets pass.

    ``measured``: the radius of the bender's last accepted trial hoop in that tube, if any.
    """
    units, pipe, target = recipe.organisation.unit_system, float(bend_recipe_of(recipe).developed), post_span + wanted
    found = []
    radii = {f"{bender.name}, {'measured' if measured else 'rated'} for": measured or bender.rated_radius}
    if recipe.radius not in radii.values():
        radii["The recipe, worked for"] = recipe.radius
    for whose, radius in radii.items():
        made = to_decimal(bent_hoop(pipe, float(radius)).span)
        if abs(off := made - target) > tolerance:
            needed = hoop_over(pipe, float(target)).radius
            found.append(
                (
                    "Another span",
                    f"{whose} a radius of {length_text(radius, units)}, makes a free span of"
                    f" {length_text(made, units)} from {length_text(pipe, units)} of pipe:"
                    f" {length_text(abs(off), units)}"
                    f" {'more' if off > 0 else 'less'} than the {length_text(target, units)} wanted, which"
                    f" takes a radius of {length_text(needed, units)}.",
                )
            )
    section = section_of(recipe.tube)
    sprung = spring_in(hoop_over(pipe, float(target)), section, float(wanted)) if section else None
    if sprung and sprung.takes_set and sprung.elastic_limit is not None and sprung.yield_mpa is not None:
        found.append(
            (
                "Takes a set",
                f"Springing in by {length_text(wanted, units)} stresses the crown of {recipe.tube} to"
                f" {sprung.stress:.0f} MPa ({sprung.stress / _KSI:.0f} ksi), above the {sprung.yield_mpa:.0f} MPa"
                f" ({sprung.yield_mpa / _KSI:.0f} ksi) that it is stated to yield at. The hoop would stay bent and"
                f" push less. Spring it in at most {length_text(sprung.elastic_limit, units)}.",
            )
        )
    return found


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
    """The batch's recipe on the radius that gives the free span wanted, with the batch's stop gap."""
    hoop = measured_hoop(batch, batch.post_span + batch.spring_in)
    return replace(bend_of(batch), radius=to_decimal(hoop.radius))


def measured_hoop(batch: HoopBatch, span: Decimal) -> Hoop:
    """The hoop of the batch's pipe that stands over that span."""
    return hoop_over(float(bend_recipe_of(batch.recipe).developed), float(span))
