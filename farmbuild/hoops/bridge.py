"""Recipes as planning inputs, and what the geometry says of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from farmbuild.catalogue.bridge import section_of
from farmbuild.catalogue.models import Material
from farmbuild.hoops.models import Bender, HoopBatch, Recipe, TrialHoop
from farmbuild.measure import UnitSystem, format_both, format_length
from farmbuild.mechanics import (
    LEVER_BELOW,
    BendRecipe,
    GeometryError,
    Hoop,
    Judgement,
    SpringIn,
    StickChoice,
    Target,
    TubeSection,
    Verdict,
    bent_hoop,
    developed_length,
    flexibility,
    hoop_over,
    judge,
    spring_in,
    sticks_for_span,
)
from farmbuild.mechanics.recipe import MAX_MARKS
from farmbuild.planning import inputs
from farmbuild.planning.ridge.misses import nearest
from farmbuild.planning.ridge.moves import HoopMove, in_steps
from farmbuild.planning.ridge.plan import SetHoop, straighten

__all__ = [
    "LEVER_BELOW",
    "BendRecipe",
    "GeometryError",
    "Hoop",
    "HoopMove",
    "Judgement",
    "RidgeSight",
    "SetHoop",
    "SpringIn",
    "StickChoice",
    "TubeSection",
    "Verdict",
    "batch_problems",
    "batch_warnings",
    "bend_of",
    "bender_problems",
    "bent_hoop",
    "both",
    "developed_length",
    "flexibility",
    "free_span",
    "in_both",
    "judge_trial",
    "kink_warning",
    "measured_hoop",
    "own_spring_in",
    "recipe_input",
    "recipe_problems",
    "recipe_warnings",
    "say",
    "section_of",
    "sight_ridge",
    "spring_in",
    "step_of",
    "sticks_for_span",
    "trial_problems",
    "wanted_bend",
    "work_out",
]

INCH = Decimal("25.4")
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


def in_both(length: Decimal | float, units: UnitSystem | str) -> tuple[str, str]:
    """A length in mm in the reader's units, and in the other, apart."""
    return format_both(_decimal(length), UnitSystem(units))


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


#: What a person can set by hand: 1/16 in, 1 mm (common practice, no source).
_STEPS = {UnitSystem.IMPERIAL: Decimal("1.5875"), UnitSystem.METRIC: Decimal(1)}


def step_of(units: UnitSystem | str) -> Decimal:
    """The smallest move that is asked for, mm."""
    return _STEPS[UnitSystem(units)]


@dataclass(frozen=True)
class RidgeSight:
    """Moves in whole steps, one for each hoop given. ``exact_total`` is what the program needs before rounding.

    ``reachable``: exact moves bring every hoop within the tolerance. ``miss``: by how much the worst hoop stays
    outside it after the rounded moves, mm, 0 for none.
    """

    moves: tuple[HoopMove, ...]
    start: float
    slope: float
    exact_total: float
    reachable: bool
    miss: float


def sight_ridge(
    hoops: Sequence[SetHoop], *, tolerance: Decimal, slope: Decimal | None, units: UnitSystem | str
) -> RidgeSight:
    """The least moves that bring the hoops to one line. At least one hoop; lengths in mm."""
    within, angle = float(tolerance), None if slope is None else float(slope)
    # From the lowest ridge: small figures keep the program exact.
    low = min(hoop.height for hoop in hoops)
    shifted = [replace(hoop, height=hoop.height - low) for hoop in hoops]
    plan = straighten(shifted, tolerance=within, slope=angle)
    reachable = plan.worst is None
    if not reachable:
        plan = nearest(shifted, tolerance=within, slope=angle)
    plan = replace(plan, start=plan.start + low)
    rounded = in_steps(hoops, plan, tolerance=within, step=step_of(units))
    return RidgeSight(rounded.hoops, plan.start, plan.slope, plan.total, reachable, rounded.miss)


# Batches and their trial hoops.

#: Held this far outside the post before it is sprung in (common practice, no source): 12 to 24 in in all.
USUAL_SPRING_IN = Decimal("457.2")
_KSI = 6.894757


def bend_of(batch: HoopBatch, gap: Decimal | None = None) -> BendRecipe:
    """The batch's recipe, with the stop gap of the batch or the one given."""
    return replace(work_out(batch.recipe), stop_gap=batch.stop_gap if gap is None else gap)


def own_spring_in(recipe: Recipe, post_span: Decimal) -> Decimal:
    """What the recipe's free span leaves over the posts, to the half inch or 10 mm; the usual where it leaves none."""
    step = INCH / 2 if recipe.organisation.unit_system == UnitSystem.IMPERIAL else Decimal(10)
    over = (free_span(recipe) or Decimal(0)) - post_span
    return (over / step).to_integral_value() * step if over >= step else USUAL_SPRING_IN


def batch_problems(recipe: Recipe, post_span: Decimal, spring_in: Decimal) -> dict[str, list[str]]:
    """Messages by field where no hoop of the recipe can have that free span."""
    units, pipe = recipe.organisation.unit_system, work_out(recipe).developed
    if post_span <= 0:
        return {"post_span": ["Type how far apart the ground posts stand, centre to centre, for example 12'."]}
    if post_span >= pipe:
        return {
            "post_span": [
                f"Posts {say(post_span, units)} apart are no nearer than the {say(pipe, units)} of pipe in a hoop, so"
                f" nothing is left to bend. Type less than {say(pipe, units)}."
            ]
        }
    if post_span + spring_in >= pipe:
        most = pipe - post_span
        return {
            "spring_in": [
                f"A free span of {say(post_span + spring_in, units)} is no shorter than the {say(pipe, units)} of pipe"
                f" in a hoop. Type less than {say(most, units)}."
            ]
        }
    return {}


def batch_warnings(
    recipe: Recipe, bender: Bender, measured: Decimal | None, post_span: Decimal, wanted: Decimal, tolerance: Decimal
) -> list[tuple[str, str]]:
    """(what, why with numbers) of what may go wrong with sizes that ``batch_problems`` lets pass.

    ``measured``: the radius of the bender's last accepted trial hoop in that tube, if any.
    """
    units, pipe, target = recipe.organisation.unit_system, float(work_out(recipe).developed), post_span + wanted
    found = []
    radii = {f"{bender.name}, {'measured' if measured else 'rated'} for": measured or bender.rated_radius}
    if recipe.radius not in radii.values():
        radii["The recipe, worked for"] = recipe.radius
    for whose, radius in radii.items():
        made = _decimal(bent_hoop(pipe, float(radius)).span)
        if abs(off := made - target) > tolerance:
            needed = hoop_over(pipe, float(target)).radius
            found.append(
                (
                    "Another span",
                    f"{whose} a radius of {say(radius, units)}, makes a free span of {say(made, units)} from"
                    f" {say(pipe, units)} of pipe: {say(abs(off), units)} {'more' if off > 0 else 'less'} than the"
                    f" {say(target, units)} wanted, which takes a radius of {say(needed, units)}.",
                )
            )
    section = section_of(recipe.tube)
    sprung = spring_in(hoop_over(pipe, float(target)), section, float(wanted)) if section else None
    if sprung and sprung.takes_set and sprung.elastic_limit is not None and sprung.yield_mpa is not None:
        found.append(
            (
                "Takes a set",
                f"Springing in by {say(wanted, units)} stresses the crown of {recipe.tube} to {sprung.stress:.0f} MPa"
                f" ({sprung.stress / _KSI:.0f} ksi), above the {sprung.yield_mpa:.0f} MPa"
                f" ({sprung.yield_mpa / _KSI:.0f} ksi) that it is stated to yield at: it stays bent and presses less on"
                f" its posts. Up to {say(sprung.elastic_limit, units)} springs back.",
            )
        )
    return found


def trial_problems(batch: HoopBatch, trial: TrialHoop) -> dict[str, list[str]]:
    """Messages by field for measures that this hoop cannot have."""
    units, bend = batch.organisation.unit_system, bend_of(batch)
    pipe, problems = bend.developed, _Problems({})
    if trial.free_span <= 0:
        problems.add("free_span", "Type the span between the ends of the hoop, measured standing free.")
    elif trial.free_span >= pipe:
        problems.add(
            "free_span",
            f"The joined sticks are {say(pipe, units)} long, so their ends cannot stand {say(trial.free_span, units)}"
            " apart. Measure again from end to end of the hoop.",
        )
    if trial.rise <= 0:
        problems.add("rise", "Type the rise from the line through the ends to the crown.")
    elif not problems.found:
        reach = ((trial.free_span / 2) ** 2 + trial.rise**2).sqrt() * 2
        if reach > pipe:
            highest = ((pipe / 2) ** 2 - (trial.free_span / 2) ** 2).sqrt()
            problems.add(
                "rise",
                f"Over a span of {say(trial.free_span, units)} a rise of {say(trial.rise, units)} takes at least"
                f" {say(reach, units)} of pipe and the hoop has {say(pipe, units)}: it cannot rise more than"
                f" {say(highest, units)}. Measure both again.",
            )
    if trial.last_gap is not None and trial.last_gap >= bend.pitch:
        problems.add(
            "last_gap",
            f"A gap of {say(trial.last_gap, units)} leaves nothing of a pull of {say(bend.pitch, units)}. Type the gap"
            " left between pipe and bender at the last pull.",
        )
    if trial.twist is not None and trial.twist >= pipe:
        problems.add("twist", f"The whole hoop is {say(pipe, units)} of pipe. Type how far one end lifts.")
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
    return replace(bend_of(batch), radius=_decimal(hoop.radius))


def measured_hoop(batch: HoopBatch, span: Decimal) -> Hoop:
    """The hoop of the batch's pipe that stands over that span."""
    return hoop_over(float(work_out(batch.recipe).developed), float(span))
