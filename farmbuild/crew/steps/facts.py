"""What a crew is told of a house where it works on it: what to know, and how the house is marked out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import LETTER_BREADTH, Drawing
from farmbuild.common.lengths import length_text
from farmbuild.common.reading import units_of
from farmbuild.crew.bridge import WITH_HOOPS, Survey, WorkKind, survey_of, to_know_of
from farmbuild.crew.models import Task
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import batches_for
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House
from farmbuild.sites.selectors import houses_by_key

#: Room for the drawing on paper, mm.
_PAPER = (170.0, 60.0)
KINDS = frozenset({WorkKind.SURVEY, *WITH_HOOPS})


@dataclass(frozen=True)
class SurveySheet:
    """``rows``: number of the hoop and where its posts stand, from corner A on the left and from B on the right."""

    words: str
    drawing: SafeString
    rows: list[tuple[int, str]]


@dataclass(frozen=True)
class Facts:
    know: tuple[str, ...] = ()
    survey: SurveySheet | None = None


def facts_of(*, organisation: Organisation, tasks: Iterable[Task]) -> dict[int, Facts]:
    """By the key of the task, of those that have any. Three queries at most, however many tasks there are."""
    told = [task for task in tasks if task.kind in KINDS]
    if not told:
        return {}
    houses = houses_by_key(organisation=organisation, keys={task.house_id for task in told})
    batches = batches_for(organisation=organisation, houses=houses)
    by_house = {house.pk: facts_of_house(house, batches.get(house.pk, ())) for house in houses}
    found = {task.pk: by_house.get(task.house_id, {}).get(task.kind) for task in told}
    return {task: facts for task, facts in found.items() if facts}


def facts_of_house(house: House, batches: Sequence[HoopBatch]) -> Mapping[str, Facts]:
    """By kind of work; nothing of a house that cannot be built as it is specified. ``batches``: that bend for it."""
    units = units_of(house.organisation)
    if spec_problems(house, units):
        return {}
    free_span = batches[-1].post_span + batches[-1].spring_in if batches else None
    facts = {kind.value: Facts(know=to_know_of(house, kind, free_span=free_span)) for kind in WITH_HOOPS}
    return facts | {WorkKind.SURVEY.value: Facts(survey=survey_sheet(house))}


def survey_sheet(house: House) -> SurveySheet:
    """Of a house without ``spec_problems``."""
    units = units_of(house.organisation)
    found = survey_of(house)
    taped = length_text(found.taped_diagonal(units), units)
    length, span = length_text(found.length, units), length_text(found.span, units)
    told = {"length": length, "span": span, "taped": taped}
    stand = (
        gettext("Posts stand %(length)s by %(span)s, centre to centre.")
        if house.post_material_id
        else gettext("Hoop ends stand %(length)s by %(span)s, centre to centre.")
    )
    square = gettext("The corners are square when both diagonals, A to D and B to C, measure %(taped)s.")
    words = f"{stand % told} {square % told}"
    places = [length_text(place, units) if place else "0" for place in found.places]
    drawing = _drawing(found, house.name, words, units, diagonal=taped, across=span, places=places)
    return SurveySheet(words, drawing, list(enumerate(places, 1)))


def _drawing(
    found: Survey, name: str, words: str, units: UnitSystem, *, diagonal: str, across: str, places: list[str]
) -> SafeString:
    """From above, the front on the left: posts, both diagonals, and running dimensions from the front corners."""
    length, span = float(found.length), float(found.span)
    drawing = Drawing(length, span, gettext("%(name)s: marking out") % {"name": name}, words, units=units, paper=_PAPER)
    drawing.rect(0, 0, length, span, "thin")
    drawing.line(0, span, length, 0, "thin")
    drawing.line(0, 0, length, span, "thin")
    for place in found.places:
        for y in (0.0, span):
            drawing.circle(float(place), y, drawing.mm(2.5), "mark")
    up, down = span + drawing.mm(20), -drawing.mm(24)
    corners = ((0.0, up, "A", "end"), (0.0, down, "B", "end"), (length, up, "C", "start"), (length, down, "D", "start"))
    for x, y, letter, side in corners:
        drawing.text(x + drawing.mm(-12 if side == "end" else 12), y, letter, anchor=side)
    for y in (span + drawing.mm(8), -drawing.mm(18)):
        for at in _readable(found, places, drawing):
            drawing.text(float(found.places[at]), y, places[at])
    drawing.text(length / 2, drawing.mm(6), gettext("both %(length)s") % {"length": diagonal})
    drawing.text(-drawing.mm(16), span / 2, gettext("front"), anchor="end")
    drawing.dimension(length, span, length, 0, across, drawing.step)
    return drawing.svg()


def _readable(found: Survey, places: list[str], drawing: Drawing) -> list[int]:
    """Of the posts whose place can be written beside the others, by even steps from the corner; the last is kept."""
    bays = len(places) - 1
    widest = (max(map(len, places)) + 1) * LETTER_BREADTH
    every = ceil(widest / (float(found.length) * drawing.scale / bays))
    return [*(at for at in range(0, bays, every) if at == 0 or bays - at >= every), bays]
