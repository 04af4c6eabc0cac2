"""What stands on a bending sheet, on the page and in the PDF alike: one sheet of paper to tape to the bender."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString

from farmbuild.common.bridge import ALWAYS, Caution, cautions_of
from farmbuild.common.lengths import length_pair, length_text
from farmbuild.hoops.batches.bridge import BentHoop, wanted_bend, wanted_hoop
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import shares_of
from farmbuild.hoops.batches.words import outside_words
from farmbuild.hoops.recipes.bridge import BendRecipe, bend_recipe_of, spring_range
from farmbuild.hoops.recipes.drawings import HoopDrawing
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.stick_strip import MANY, PAPER, Layout, layout_of, stick_strips, straight_words
from farmbuild.hoops.recipes.words import (
    end_words,
    joining_words,
    left_off_words,
    lever_mark,
    lever_words,
    mark_words,
    part_words,
    sleeve_text,
    unpulled_words,
)
from farmbuild.measure import count_noun, format_count

#: More marks than this on one stick do not fit one sheet at arm's length; they are said as a rule then.
MAX_MARKS = 30
#: More boxes than this are counted by strokes on a line.
MAX_BOXES = 60
TRIALS = 3
#: Room for the hoop in the PDF, mm wide and high, the largest first: beside few marks, and under many.
BESIDE, UNDER = ((145.0, 72.0), (145.0, 60.0), (110.0, 46.0)), ((185.0, 70.0), (185.0, 58.0))


@dataclass(frozen=True)
class Big:
    """One number to read from afar: in the reader's units, and small in the other."""

    label: str
    own: str
    other: str = ""


@dataclass(frozen=True)
class SheetMark:
    number: int
    own: str
    other: str
    lever: bool


@dataclass(frozen=True)
class BendingSheet:
    """``marks`` is empty where there are too many to list; ``marks_rule`` then says them. ``boxes``: hoops to tick."""

    title: str
    answer: str
    about: list[str]
    #: Which end of a stick goes into the bender first.
    end: str
    numbers: list[Big]
    marks: list[SheetMark]
    marks_rule: str
    steps: list[str]
    #: How far the accepted trial hoop is off where that is more than the tolerance, and why it is good; else empty.
    outside: str
    hoop: SafeString
    #: For the PDF, which takes the first that it has room for.
    hoops_to_scale: list[SafeString]
    #: On the page, and in the PDF: one stick, drawn of the same places.
    strip: SafeString
    stick: Layout
    straight: str
    boxes: int
    hoops: str
    cautions: list[Caution]
    always: str
    letter: bool
    farm: str

    @property
    def trials(self) -> range:
        return range(1, TRIALS + 1)

    @property
    def box_numbers(self) -> range:
        return range(1, self.boxes + 1)


def recipe_bending_sheet(recipe: Recipe) -> BendingSheet:
    """``recipe`` makes a hoop and comes with tube and organisation loaded."""
    bend = bend_recipe_of(recipe)
    about = [f"{recipe.tube}, {count_noun(recipe.sticks, 'stick')} of {_say(recipe, recipe.stick_length)} in a hoop"]
    return _sheet(recipe, bend, bend.hoop, f"Bending sheet: {recipe.name}", about, None)


def batch_bending_sheet(batch: HoopBatch) -> BendingSheet:
    """With the batch's own target and its stop gap as corrected so far."""
    recipe = batch.recipe
    shares = [f"{share.hoops} for {share.house.name}" for share in shares_of(batch=batch)]
    houses = "; ".join(shares[:4]) + (f"; {len(shares) - 4} houses more" if len(shares) > 4 else "")
    about = [
        f"{count_noun(batch.quantity, 'hoop')} of {recipe.name} on {batch.bender.name}",
        f"{recipe.tube}, {count_noun(recipe.sticks, 'stick')} of {_say(recipe, recipe.stick_length)} in a hoop",
        *([houses] if houses else []),
        f"Posts {_say(recipe, batch.post_span)} apart, spring-in {_say(recipe, batch.spring_in)}",
    ]
    return _sheet(recipe, wanted_bend(batch), wanted_hoop(batch), f"Bending sheet: {batch}", about, batch)


def _say(recipe: Recipe, length: object) -> str:
    return length_text(length, recipe.organisation.unit_system)


def _sheet(
    recipe: Recipe, bend: BendRecipe, hoop: BentHoop, title: str, about: list[str], batch: HoopBatch | None
) -> BendingSheet:
    units = recipe.organisation.unit_system
    lever = lever_mark(bend, recipe.lever_length)
    marks = [
        SheetMark(number, *length_pair(at, units), lever is not None and at >= lever)
        for number, at in enumerate(bend.marks, 1)
    ]
    rule = ""
    if len(marks) > MAX_MARKS:
        rule = f"{len(marks)} marks: {marks[0].own}, then every {_say(recipe, bend.pitch)}, the last at {marks[-1].own}"
        marks = []
    # As the style sheet has it: lower where the marks need the room.
    paper = (100.0, 61.0) if 0 < len(marks) <= MANY else (170.0, 41.0)
    sleeve = sleeve_text(recipe, units)

    def draw(room: tuple[float, float]) -> SafeString:
        return HoopDrawing(bend, title, units, recipe.lever_length, recipe.tube.swaged, hoop, sleeve, room).hoop()

    free = "Free span wanted" if batch else "Free span"
    within = f" ± {_say(recipe, batch.span_tolerance)}" if batch else ""
    quantity = batch.quantity if batch else 0
    return BendingSheet(
        title=title,
        answer=(
            f"{count_noun(bend.pulls_in_hoop, 'pull')}, {_each(bend)} to a stop gap of"
            f" {length_text(bend.stop_gap, units)}, bend {count_noun(bend.sticks, 'stick')} to a hoop"
            f" {length_text(hoop.span, units)} wide."
        ),
        about=about,
        end=end_words(recipe.tube.swaged),
        numbers=[
            Big(free + within, *length_pair(hoop.span, units)),
            Big("Rise", *length_pair(hoop.rise, units)),
            Big("Stop gap", *length_pair(bend.stop_gap, units)),
            Big("Pulls on a stick" if not any(bend.unpulled) else "Marks on a stick", str(len(bend.marks))),
        ],
        marks=marks,
        marks_rule=rule,
        steps=_steps(recipe, bend, batch and batch.post_span, units),
        outside=outside_words(batch, batch.accepted_trial) if batch and batch.accepted_trial else "",
        hoop=draw(paper),
        hoops_to_scale=[draw(room) for room in (BESIDE if 0 < len(marks) <= MANY else UNDER)],
        strip=stick_strips(bend, title, units, end_words(recipe.tube.swaged), swaged=recipe.tube.swaged),
        stick=layout_of(bend, units, PAPER, swaged=recipe.tube.swaged),
        straight=straight_words(bend, units),
        boxes=quantity if quantity <= MAX_BOXES else 0,
        hoops=format_count(quantity) if quantity else "",
        cautions=cautions_of("bend"),
        always=ALWAYS,
        letter=units == "imperial",
        farm=recipe.organisation.name,
    )


def _each(bend: BendRecipe) -> str:
    part = sum(pull.part for pull in bend.pulled)
    return f"{part} of them part way, the others" if part else "each"


def _steps(recipe: Recipe, bend: BendRecipe, post_span: Decimal | None, units: str) -> list[str]:
    """What every shop has learnt the dear way; common practice, no source."""
    steps = [
        "Fix the bender high, at several points, or sideways on a bench.",
        mark_words(recipe.tube.swaged),
        f"The {end_words(recipe.tube.swaged)} goes into the bender first. Pull at each mark, down to a stop gap of"
        f" {length_text(bend.stop_gap, units)}, against over-bending.",
        lever_words(bend, units, recipe.lever_length),
    ]
    steps += [
        words for words in (left_off_words(bend, units), unpulled_words(bend, units), part_words(bend, units)) if words
    ]
    join = " join it," if bend.sticks > 1 else ""
    steps.append(f"Bend one hoop,{join} lay it flat and measure it. Only when it is accepted bend the rest.")
    if joining := joining_words(recipe, units):
        steps.append(joining)
    steps.append(
        f"{spring_range(recipe, post_span, units)} Two people spring a hoop in, three sight and adjust. Do not drive"
        " hoops home until the ridge has been sighted."
    )
    return steps
