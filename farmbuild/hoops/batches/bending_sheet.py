"""What stands on a bending sheet, on the page and in the PDF alike: one sheet of paper to tape to the bender."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from farmbuild.common.bridge import ALWAYS, Caution, cautions_of
from farmbuild.common.lengths import length_pair, length_text
from farmbuild.common.reading import units_of
from farmbuild.common.speaking import said
from farmbuild.hoops.batches.bridge import BentHoop, wanted_bend, wanted_hoop
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import shares_of
from farmbuild.hoops.batches.words import outside_words
from farmbuild.hoops.recipes.bridge import BendRecipe, bend_recipe_of, spring_sentences
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
from farmbuild.measure import format_count

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
    def headings(self) -> list[str]:
        """Of the table that is filled by hand, a trial hoop a row."""
        return [
            gettext("Trial hoop"),
            gettext("Free span"),
            gettext("Rise"),
            gettext("Stop gap"),
            gettext("Twist"),
            gettext("Fresh sticks"),
            gettext("Accepted"),
        ]

    @property
    def trials(self) -> range:
        return range(1, TRIALS + 1)

    @property
    def box_numbers(self) -> range:
        return range(1, self.boxes + 1)


def recipe_bending_sheet(recipe: Recipe) -> BendingSheet:
    """``recipe`` makes a hoop and comes with tube and organisation loaded."""
    bend = bend_recipe_of(recipe)
    return _sheet(recipe, bend, bend.hoop, _title(recipe.name), [_pipe(recipe)], None)


def _title(name: object) -> str:
    return gettext("Bending sheet: %(name)s") % {"name": name}


def _pipe(recipe: Recipe) -> str:
    words = ngettext(
        "%(tube)s, %(count)s stick of %(length)s in a hoop",
        "%(tube)s, %(count)s sticks of %(length)s in a hoop",
        recipe.sticks,
    )
    return words % {"tube": recipe.tube, "count": recipe.sticks, "length": _say(recipe, recipe.stick_length)}


def batch_bending_sheet(batch: HoopBatch) -> BendingSheet:
    """With the batch's own target and its stop gap as corrected so far."""
    recipe = batch.recipe
    shares = [
        gettext("%(hoops)s for %(house)s") % {"hoops": share.hoops, "house": share.house.name}
        for share in shares_of(batch=batch)
    ]
    more = gettext("%(count)s houses more") % {"count": len(shares) - 4} if len(shares) > 4 else ""
    houses = "; ".join(filter(None, (*shares[:4], more)))
    hoops = ngettext(
        "%(count)s hoop of %(recipe)s on %(bender)s", "%(count)s hoops of %(recipe)s on %(bender)s", batch.quantity
    )
    posts = gettext("Posts %(span)s apart, spring-in %(inward)s")
    about = [
        hoops % {"count": format_count(batch.quantity), "recipe": recipe.name, "bender": batch.bender.name},
        _pipe(recipe),
        *([houses] if houses else []),
        posts % {"span": _say(recipe, batch.post_span), "inward": _say(recipe, batch.spring_in)},
    ]
    return _sheet(recipe, wanted_bend(batch), wanted_hoop(batch), _title(batch), about, batch)


def _say(recipe: Recipe, length: object) -> str:
    return length_text(length, units_of(recipe.organisation))


def _sheet(
    recipe: Recipe, bend: BendRecipe, hoop: BentHoop, title: str, about: list[str], batch: HoopBatch | None
) -> BendingSheet:
    units = units_of(recipe.organisation)
    lever = lever_mark(bend, recipe.lever_length)
    marks = [
        SheetMark(number, *length_pair(at, units), lever is not None and at >= lever)
        for number, at in enumerate(bend.marks, 1)
    ]
    rule = ""
    if len(marks) > MAX_MARKS:
        words = gettext("%(count)s marks: %(first)s, then every %(pitch)s, the last at %(last)s")
        pitch = _say(recipe, bend.pitch)
        rule = words % {"count": len(marks), "first": marks[0].own, "pitch": pitch, "last": marks[-1].own}
        marks = []
    # As the style sheet has it: lower where the marks need the room.
    paper = (100.0, 61.0) if 0 < len(marks) <= MANY else (170.0, 41.0)
    sleeve = sleeve_text(recipe, units)

    def draw(room: tuple[float, float]) -> SafeString:
        return HoopDrawing(bend, title, units, recipe.lever_length, recipe.tube.swaged, hoop, sleeve, room).hoop()

    free = gettext("Free span wanted") if batch else gettext("Free span")
    within = f" ± {_say(recipe, batch.span_tolerance)}" if batch else ""
    quantity = batch.quantity if batch else 0
    return BendingSheet(
        title=title,
        answer=_answer(bend, hoop, units),
        about=about,
        end=end_words(recipe.tube.swaged),
        numbers=[
            Big(free + within, *length_pair(hoop.span, units)),
            Big(gettext("Rise"), *length_pair(hoop.rise, units)),
            Big(gettext("Stop gap"), *length_pair(bend.stop_gap, units)),
            Big(
                gettext("Marks on a stick") if any(bend.unpulled) else gettext("Pulls on a stick"), str(len(bend.marks))
            ),
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
        cautions=[Caution(*map(said, caution)) for caution in cautions_of("bend")],
        always=said(ALWAYS),
        letter=units == "imperial",
        farm=recipe.organisation.name,
    )


def _answer(bend: BendRecipe, hoop: BentHoop, units: str) -> str:
    part = sum(pull.part for pull in bend.pulled)
    pulls = ngettext("%(count)s pull", "%(count)s pulls", bend.pulls_in_hoop) % {
        "count": format_count(bend.pulls_in_hoop)
    }
    sticks = ngettext("%(count)s stick", "%(count)s sticks", bend.sticks) % {"count": bend.sticks}
    words = (
        gettext(
            "%(pulls)s, %(part)s of them part way, the others to a stop gap of %(gap)s, bend %(sticks)s to a hoop"
            " %(span)s wide."
        )
        if part
        else gettext("%(pulls)s, each to a stop gap of %(gap)s, bend %(sticks)s to a hoop %(span)s wide.")
    )
    gap, span = length_text(bend.stop_gap, units), length_text(hoop.span, units)
    return words % {"pulls": pulls, "part": part, "gap": gap, "sticks": sticks, "span": span}


def _steps(recipe: Recipe, bend: BendRecipe, post_span: Decimal | None, units: str) -> list[str]:
    """What every shop has learnt the dear way; common practice, no source."""
    steps = [
        gettext("Fix the bender high, at several points, or sideways on a bench."),
        mark_words(recipe.tube.swaged),
        gettext(
            "The %(end)s goes into the bender first. Pull at each mark, down to a stop gap of %(gap)s, against"
            " over-bending."
        )
        % {"end": end_words(recipe.tube.swaged), "gap": length_text(bend.stop_gap, units)},
        lever_words(bend, units, recipe.lever_length),
    ]
    steps += [
        words for words in (left_off_words(bend, units), unpulled_words(bend, units), part_words(bend, units)) if words
    ]
    steps.append(
        gettext("Bend one hoop, join it, lay it flat and measure it. Only when it is accepted bend the rest.")
        if bend.sticks > 1
        else gettext("Bend one hoop, lay it flat and measure it. Only when it is accepted bend the rest.")
    )
    if joining := joining_words(recipe, units):
        steps.append(joining)
    spring = " ".join(said(one) for one in spring_sentences(recipe, post_span, units))
    people = gettext(
        "Two people spring a hoop in, three sight and adjust. Do not drive hoops home until the ridge has been sighted."
    )
    steps.append(f"{spring} {people}")
    return steps
