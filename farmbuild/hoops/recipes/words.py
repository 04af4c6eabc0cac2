"""What is said of the pulls of a recipe, on its page, on the bending sheet and with its drawings."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from farmbuild.common.lengths import length_text
from farmbuild.hoops.recipes import bridge
from farmbuild.hoops.recipes.bridge import LEVER_BELOW, BendRecipe, BentHoop, Pull
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem, count_noun, format_decimal


def end_words(swaged: bool) -> str:
    """Which end a stick is measured from; it goes into the bender first. Plain conduit has no swage to know it by."""
    return "swaged end" if swaged else "marked end"


def mark_words(swaged: bool) -> str:
    """From where to mark, in a sentence."""
    which = "" if swaged else "Paint one end of every stick: that is its marked end. "
    return (
        f"{which}Mark every stick from its {end_words(swaged)}, all marks in one line along the pipe. Keep that line in"
        " sight at every pull, so that the stick does not twist."
    )


def pipe_words(recipe: Recipe, units: str) -> str:
    """How long the pipe of one hoop is, in a sentence."""
    stick = length_text(recipe.stick_length, units)
    if recipe.sticks == 1:
        return f"One stick of {stick}."
    if bridge.sleeved(recipe):
        return f"{recipe.sticks} x {stick}: the sticks butt in a sleeve and lose no length."
    return f"{recipe.sticks} x {stick} less {recipe.sticks - 1} x {length_text(recipe.insertion, units)} of insertion."


def sleeve_text(recipe: Recipe, units: str) -> str:
    """The sleeve at a joint, as a few words; empty where none joins its sticks."""
    if not bridge.sleeved(recipe):
        return ""
    return f"{recipe.joint} of {length_text(recipe.sleeve_length, units)}"


def joining_words(recipe: Recipe, units: str) -> str:
    """How bent sticks are joined, in sentences; empty for a hoop of one stick."""
    if recipe.sticks == 1:
        return ""
    if not bridge.sleeved(recipe):
        return (
            f"Slide each swaged end {length_text(recipe.insertion, units)} into the next stick. The joint screw"
            " goes in the side, never on top (common practice, no source)."
        )
    half = length_text(recipe.sleeve_length / 2, units)
    inner = recipe.joint == bridge.Joint.INNER
    slide = f"Slide each {half} {'into' if inner else 'over'} one stick, and butt the next stick against that."
    words = (
        f"Saw sleeves of {length_text(recipe.sleeve_length, units)} off {recipe.sleeve_material}, and take off the"
        f" burrs. {slide}"
    )
    if recipe.sleeve_screws:
        screws = count_noun(recipe.sleeve_screws, "screw")
        words += (
            f" Put {screws} in the side of each sleeve, as many in either stick, never on top (common practice, no"
            " source)."
        )
    return words


def lever_mark(bend: BendRecipe, lever_below: Decimal = LEVER_BELOW) -> Decimal | None:
    """The first mark that is pulled with less than that much free pipe, mm; None without one."""
    pulled = {pull.number for pull in bend.pulled}
    for number, mark in enumerate(bend.marks, 1):
        if number in pulled and bend.stick_length - mark < lever_below:
            return mark
    return None


def lever_words(bend: BendRecipe, units: str, lever_below: Decimal = LEVER_BELOW) -> str:
    """Where the lever bar starts to be needed, in a sentence."""
    free = length_text(lever_below, units)
    lever = lever_mark(bend, lever_below)
    if lever is None:
        return f"More than {free} of pipe is left to pull on at every pull, so no lever bar is needed."
    return (
        f"From the mark at {length_text(lever, units)} less than {free} of pipe is left to pull on: slide a"
        " lever bar over the plain end (common practice, no source)."
    )


def left_off_words(bend: BendRecipe, units: str) -> str:
    """Which marks of the pitch are not made and why, in sentences; empty where all are."""
    return bridge.left_off_words(bend, UnitSystem(units))


def unpulled_words(bend: BendRecipe, units: str) -> str:
    """Which marks lie on straight legs and are not pulled, in a sentence; empty where none does."""
    parts = [
        f"{_numbers(numbers)}{f' of stick {stick}' if bend.sticks > 1 else ''}"
        for stick, numbers in enumerate(bend.unpulled, 1)
        if numbers
    ]
    if not parts:
        return ""
    return (
        f"The pipe is longer than a half circle on this radius, so {legs_words(bend.hoop, units)}."
        f" Do not pull at {' or '.join(parts)}{_which_stick(bend)}."
    )


def legs_words(hoop: BentHoop, units: str) -> str:
    left, right = (length_text(leg, units) for leg in hoop.legs)
    return (
        f"{left} at each end stays straight"
        if left == right
        else f"{left} at the left end and {right} at the right stay straight"
    )


def part_words(bend: BendRecipe, units: str) -> str:
    """Which pulls are stopped sooner, so that the legs stand parallel, in sentences; empty where none is."""
    parts = [
        f"{format_decimal(bend.degrees_of(pull), 1)}° at mark"
        f" {pull.number}{f' of stick {pull.stick}' if bend.sticks > 1 else ''}"
        f" (stop gap {length_text(bend.gap_of(pull), units)})"
        for pull in bend.pulled
        if pull.part
    ]
    if not parts:
        return ""
    return f"Pull only part way: {' and '.join(parts)}. The legs then stand parallel{_which_stick(bend)}."


def _which_stick(bend: BendRecipe) -> str:
    return "; stick 1 is the left one, measured from the end of the hoop" if bend.sticks > 1 else ""


def _numbers(numbers: Iterable[int]) -> str:
    """mark 1; marks 6 and 7; marks 1 to 6 and 9 to 14. The straight legs hold at most a run at either end."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    texts = [str(run[0]) if len(run) == 1 else f"{run[0]} {'and' if len(run) == 2 else 'to'} {run[-1]}" for run in runs]
    return f"mark{'s' if sum(map(len, runs)) > 1 else ''} {' and '.join(texts)}"


def pull_note(bend: BendRecipe, pull: Pull) -> str:
    """Why it bends less than the pitch; empty where it bends all of it."""
    if pull.part:
        return "part pull"
    if float(bend.pitch) - pull.full < 0.5:
        return ""
    half, past = bend.pitch / 2, bend.stick_length - pull.at
    first, last = pull.stick == 1, pull.stick == bend.sticks
    at_end = (past < half and last) or (pull.at < half and first)
    return "the pipe ends" if at_end else "a joint or the pull before overlaps"
