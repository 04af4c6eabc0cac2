"""What is said of the pulls of a recipe, on its page, on the bending sheet and with its drawings."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from django.utils.translation import gettext, ngettext

from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said
from farmbuild.hoops.recipes import bridge
from farmbuild.hoops.recipes.bridge import LEVER_BELOW, BendRecipe, BentHoop, Pull
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem, format_decimal


def end_words(swaged: bool) -> str:
    """Which end a stick is measured from; it goes into the bender first. Plain conduit has no swage to know it by."""
    return gettext("swaged end") if swaged else gettext("marked end")


def mark_words(swaged: bool) -> str:
    """From where to mark, in a sentence."""
    line = gettext("Keep that line in sight at every pull, so that the stick does not twist.")
    if swaged:
        mark = gettext("Mark every stick from its swaged end, all marks in one line along the pipe.")
        return f"{mark} {line}"
    paint = gettext("Paint one end of every stick: that is its marked end.")
    mark = gettext("Mark every stick from its marked end, all marks in one line along the pipe.")
    return f"{paint} {mark} {line}"


def pipe_words(recipe: Recipe, units: str) -> str:
    """How long the pipe of one hoop is, in a sentence."""
    stick = length_text(recipe.stick_length, units)
    if recipe.sticks == 1:
        return gettext("One stick of %(stick)s.") % {"stick": stick}
    if bridge.sleeved(recipe):
        return gettext("%(sticks)s x %(stick)s: the sticks butt in a sleeve and lose no length.") % {
            "sticks": recipe.sticks,
            "stick": stick,
        }
    return gettext("%(sticks)s x %(stick)s less %(joints)s x %(insertion)s of insertion.") % {
        "sticks": recipe.sticks,
        "stick": stick,
        "joints": recipe.sticks - 1,
        "insertion": length_text(recipe.insertion, units),
    }


def sleeve_text(recipe: Recipe, units: str) -> str:
    """The sleeve at a joint, as a few words; empty where none joins its sticks."""
    if not bridge.sleeved(recipe):
        return ""
    return gettext("%(joint)s of %(sleeve_length)s") % {
        "joint": _sleeve(recipe),
        "sleeve_length": length_text(recipe.sleeve_length, units),
    }


def _sleeve(recipe: Recipe) -> str:
    return gettext("inner sleeve") if recipe.joint == bridge.Joint.INNER else gettext("outer sleeve")


def joining_words(recipe: Recipe, units: str) -> str:
    """How bent sticks are joined, in sentences; empty for a hoop of one stick."""
    if recipe.sticks == 1:
        return ""
    if not bridge.sleeved(recipe):
        words = gettext(
            "Slide each swaged end %(length)s into the next stick. The joint screw goes in the side, never on top"
            " (common practice, no source)."
        )
        return words % {"length": length_text(recipe.insertion, units)}
    half = length_text(recipe.sleeve_length / 2, units)
    inner = recipe.joint == bridge.Joint.INNER
    saw = gettext("Saw sleeves of %(length)s off %(material)s, and take off the burrs.")
    slide = (
        gettext("Slide each %(half)s into one stick, and butt the next stick against that.")
        if inner
        else gettext("Slide each %(half)s over one stick, and butt the next stick against that.")
    )
    told = {"length": length_text(recipe.sleeve_length, units), "material": recipe.sleeve_material, "half": half}
    words = f"{saw % told} {slide % told}"
    if recipe.sleeve_screws:
        screw = ngettext(
            "Put %(count)s screw in the side of each sleeve, as many in either stick, never on top (common practice,"
            " no source).",
            "Put %(count)s screws in the side of each sleeve, as many in either stick, never on top (common practice,"
            " no source).",
            recipe.sleeve_screws,
        )
        words += " " + screw % {"count": recipe.sleeve_screws}
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
        words = gettext("More than %(free)s of pipe is left to pull on at every pull, so no lever bar is needed.")
        return words % {"free": free}
    words = gettext(
        "From the mark at %(mark)s less than %(free)s of pipe is left to pull on: slide a lever bar over the plain end"
        " (common practice, no source)."
    )
    return words % {"mark": length_text(lever, units), "free": free}


def left_off_words(bend: BendRecipe, units: str) -> str:
    """Which marks of the pitch are not made and why, in sentences; empty where all are."""
    return " ".join(said(one) for one in bridge.left_off_sentences(bend, UnitSystem(units)))


def unpulled_words(bend: BendRecipe, units: str) -> str:
    """Which marks lie on straight legs and are not pulled, in a sentence; empty where none does."""
    parts = [_of_stick(_numbers(numbers), stick, bend) for stick, numbers in enumerate(bend.unpulled, 1) if numbers]
    if not parts:
        return ""
    why = gettext("The pipe is longer than a half circle on this radius, so %(legs)s.")
    pull = gettext("Do not pull at %(marks)s%(which)s.")
    marks = gettext(" or ").join(parts)
    return f"{why % {'legs': legs_words(bend.hoop, units)}} {pull % {'marks': marks, 'which': _which_stick(bend)}}"


def _of_stick(marks: str, stick: int, bend: BendRecipe) -> str:
    if bend.sticks == 1:
        return marks
    return gettext("%(marks)s of stick %(stick)s") % {"marks": marks, "stick": stick}


def legs_words(hoop: BentHoop, units: str) -> str:
    left, right = (length_text(leg, units) for leg in hoop.legs)
    if left == right:
        return gettext("%(length)s at each end stays straight") % {"length": left}
    words = gettext("%(left)s at the left end and %(right)s at the right stay straight")
    return words % {"left": left, "right": right}


def part_words(bend: BendRecipe, units: str) -> str:
    """Which pulls are stopped sooner, so that the legs stand parallel, in sentences; empty where none is."""
    parts = [
        gettext("%(degrees)s° at %(mark)s (stop gap %(gap)s)")
        % {
            "degrees": format_decimal(bend.degrees_of(pull), 1),
            "mark": _of_stick(gettext("mark %(number)s") % {"number": pull.number}, pull.stick, bend),
            "gap": length_text(bend.gap_of(pull), units),
        }
        for pull in bend.pulled
        if pull.part
    ]
    if not parts:
        return ""
    words = gettext("Pull only part way: %(pulls)s. The legs then stand parallel%(which)s.")
    return words % {"pulls": gettext(" and ").join(parts), "which": _which_stick(bend)}


def _which_stick(bend: BendRecipe) -> str:
    return gettext("; stick 1 is the left one, measured from the end of the hoop") if bend.sticks > 1 else ""


def _numbers(numbers: Iterable[int]) -> str:
    """mark 1; marks 6 and 7; marks 1 to 6 and 9 to 14. The straight legs hold at most a run at either end."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = gettext(" and ").join(_run(run) for run in runs)
    many = sum(map(len, runs))
    return (gettext("marks %(number)s") if many > 1 else gettext("mark %(number)s")) % {"number": words}


def _run(run: list[int]) -> str:
    if len(run) == 1:
        return str(run[0])
    between = gettext(" and ") if len(run) == 2 else gettext(" to ")
    return f"{run[0]}{between}{run[-1]}"


def pull_note(bend: BendRecipe, pull: Pull) -> str:
    """Why it bends less than the pitch; empty where it bends all of it."""
    if pull.part:
        return gettext("part pull")
    if float(bend.pitch) - pull.full < 0.5:
        return ""
    half, past = bend.pitch / 2, bend.stick_length - pull.at
    first, last = pull.stick == 1, pull.stick == bend.sticks
    at_end = (past < half and last) or (pull.at < half and first)
    return gettext("the pipe ends") if at_end else gettext("a joint or the pull before overlaps")
