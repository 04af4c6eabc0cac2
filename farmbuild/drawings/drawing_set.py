"""The sheets of one house, in the order in which they are read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext

from farmbuild.common.lengths import length_pair, length_text
from farmbuild.common.speaking import said, said_count
from farmbuild.common.templatetags.farm import day, moment
from farmbuild.drawings.bridge import Facts, TakeoffRow, cautions, facts_of
from farmbuild.drawings.drawn.along import along, first_bays
from farmbuild.drawings.drawn.ends import ends
from farmbuild.drawings.drawn.hoop import bent_hoop, stick
from farmbuild.drawings.drawn.joints import joints
from farmbuild.drawings.drawn.section import section
from farmbuild.drawings.pen import HEAD, LETTER, Layer, Line, Pen, Words, wrapped
from farmbuild.drawings.scales import Paper
from farmbuild.drawings.sheets import Block, Box, Page, Sheet, column, finished, fit_upright
from farmbuild.hoops.recipes.words import (
    joining_words,
    left_off_words,
    lever_words,
    mark_words,
    part_words,
    pipe_words,
    unpulled_words,
)
from farmbuild.measure import UnitSystem, format_count
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.orgs.clock import today_of
from farmbuild.sites.models import House

#: Title of the sheets for a supplier.
LIST = _("List of parts")
#: Of the column of notes beside a view, mm.
_NOTES = 118.0
#: Marks listed one by one at most; more are said as a rule.
_MAX_LISTED = 48


@dataclass(frozen=True)
class DrawingSet:
    house: str
    paper: Paper
    sheets: tuple[Sheet, ...]
    #: Some sheets of it alone.
    part: bool = False

    @property
    def borrowed_letters(self) -> bool:
        """Whether some are none of those that come with the sheets: Latin, Greek, Cyrillic."""
        return any(
            ord(letter) > 0x52F and not 0x2000 <= ord(letter) <= 0x22FF
            for sheet in self.sheets
            for things in (sheet.paper, *(placed.things for placed in sheet.views))
            for thing in things
            if isinstance(thing, Words)
            for letter in thing.text
        )


def drawing_set(house: House, *, paper: Paper, by: str) -> DrawingSet:
    """Of a house without ``spec_problems``; ``house`` comes with recipe, tube, materials and organisation."""
    organisation = house.organisation
    units = UnitSystem(organisation.unit_system)
    facts = facts_of(house, units)
    pages = [
        *_section(facts, paper),
        *_along(facts, paper),
        *_ends(facts, paper),
        *_recipe(house, facts, paper),
        *_joints(house, facts, paper),
        *_parts(facts, paper),
    ]
    block = Block(
        house=house.name,
        site=house.site.name,
        organisation=organisation.name,
        drawn=gettext("%(day)s by %(name)s") % {"day": day(today_of(organisation=organisation)), "name": by},
        version=gettext("%(version)s, saved %(moment)s") % {"version": facts.version, "moment": moment(house.saved_at)},
        units="ft-in (mm)" if units is UnitSystem.IMPERIAL else "mm (ft-in)",
        cautions=cautions(),
    )
    return DrawingSet(house.name, paper, tuple(finished(pages, paper, block)))


def _beside(paper: Paper) -> tuple[Box, Box]:
    """The large part of a sheet, and a column at its right."""
    x, y, wide, high = paper.inside
    return (x, y, wide - _NOTES - 6, high), (x + wide - _NOTES, y + 4, _NOTES - 4, high - 8)


def _section(facts: Facts, paper: Paper) -> Iterator[Page]:
    page = Page(_("Section"), facts.units)
    large, notes = _beside(paper)
    page.put([section(facts)], [large])
    column(page.pen, notes, [(said(head), said(words)) for head, words in facts.notes.items()])
    yield page


def _along(facts: Facts, paper: Paper) -> Iterator[Page]:
    page = Page(_("Side view and plan"), facts.units)
    view = along(facts)
    page.put([view], [paper.inside])
    yield page
    # A long house is so small there that its first bays are drawn larger on a sheet of their own.
    scale = fit_upright(view, paper.inside, facts.units)
    part = first_bays(facts, scale, paper.inside[2]) if page.views[0].scale >= 2 * scale else None
    if part:
        page = Page(part.name, facts.units)
        page.put([part], [paper.inside])
        yield page


def _ends(facts: Facts, paper: Paper) -> Iterator[Page]:
    views = ends(facts)
    if not views:
        return
    page = Page(_("Ends"), facts.units)
    x, y, wide, high = paper.inside
    each = wide / len(views)
    page.put(views, [(x + at * each, y, each, high) for at in range(len(views))], alike=True)
    yield page


def _recipe(house: House, facts: Facts, paper: Paper) -> Iterator[Page]:
    page = Page(_("Hoop recipe"), facts.units)
    x, y, wide, high = paper.inside
    low = 70.0
    page.put([bent_hoop(facts)], [(x, y + low, wide - _NOTES - 6, high - low)])
    page.put([stick(facts)], [(x, y, wide, low)])
    recipe, bend, units = house.recipe, facts.bend, facts.units
    pulls = (
        mark_words(recipe.tube.swaged),
        left_off_words(bend, units),
        unpulled_words(bend, units),
        part_words(bend, units),
        lever_words(bend, units, recipe.lever_length),
    )
    text = gettext("Stop gap %(stop_gap)s, radius %(radius)s.") % {
        "stop_gap": _both(bend.stop_gap, units),
        "radius": _both(bend.radius, units),
    }
    paragraphs = [
        (recipe.name, f"{recipe.tube}. {pipe_words(recipe, units)} {text}"),
        (gettext("Marks"), _marks(facts)),
        (gettext("Pulls"), " ".join(words for words in pulls if words)),
    ]
    column(page.pen, (x + wide - _NOTES, y + low + 2, _NOTES - 4, high - low - 6), paragraphs)
    yield page


def _both(length: object, units: UnitSystem) -> str:
    own, other = length_pair(length, units)
    return f"{own} ({other})"


def _marks(facts: Facts) -> str:
    marks, units = facts.bend.marks, facts.units
    if len(marks) > _MAX_LISTED:
        return gettext("%(marks)s: the first at %(first)s, then every %(pitch)s, the last at %(last)s.") % {
            "marks": format_count(len(marks)),
            "first": _both(marks[0], units),
            "pitch": _both(facts.bend.pitch, units),
            "last": _both(marks[-1], units),
        }
    return "; ".join(f"{number}: {_both(mark, units)}" for number, mark in enumerate(marks, 1)) + "."


def _joints(house: House, facts: Facts, paper: Paper) -> Iterator[Page]:
    views = joints(facts)
    if not views:
        return
    page = Page(_("Joints"), facts.units)
    x, y, wide, high = paper.inside
    lying = [view for view in views if view.wide >= view.high]
    standing = [view for view in views if view.wide < view.high]
    room = wide - 110.0 if standing else wide
    notes = 34.0
    each = (high - notes) / max(1, len(lying))
    page.put(lying, [(x, y + notes + at * each, room, each) for at in reversed(range(len(lying)))])
    beside = (x + wide - 110, y, 110.0, high) if lying else (x, y, wide, high)
    page.put(standing, [beside] * len(standing))
    if words := joining_words(house.recipe, facts.units):
        column(page.pen, (x + 4, y + 2, room - 12, notes - 4), [(gettext("Joining"), words)])
    yield page


# List of parts

_NUMBER, _QUANTITY = _("No."), _("Quantity")
_COLUMNS = (
    (_NUMBER, 12.0), (_("Part"), 58.0), (_("Material"), 118.0), (_("Length"), 62.0), (_QUANTITY, 26.0), ("", 110.0),
)  # fmt: skip
_LINE = LETTER * 1.6


def _parts(facts: Facts, paper: Paper) -> Iterator[Page]:
    """As many sheets as it takes."""
    x, y, _, high = paper.inside
    cells = [_cells(number, row, facts) for number, row in enumerate(facts.rows, 1)]
    page, at = None, 0.0
    for row in cells:
        tall = max(map(len, row)) * _LINE + 2
        if page is None or at - tall < y + 3:
            if page is not None:
                yield page
            page = Page(LIST, facts.units)
            at = y + high - 6
            page.pen.text(x + 4, at - 3, said(LIST), height=HEAD)
            at -= 12
            _row(page.pen, x + 4, at, [[said(head)] for head, _ in _COLUMNS])
            at -= 2
            page.pen.line(Layer.TEXT, x + 4, at, x + 4 + sum(wide for _, wide in _COLUMNS), at, Line.SEEN)
        at -= tall
        _row(page.pen, x + 4, at + tall - _LINE, row)
        page.pen.line(Layer.TEXT, x + 4, at, x + 4 + sum(wide for _, wide in _COLUMNS), at, Line.THIN)
    if page is not None:
        yield page


def _row(pen: Pen, x: float, y: float, cells: Sequence[Sequence[str]]) -> None:
    for (head, wide), lines in zip(_COLUMNS, cells, strict=True):
        for at, line in enumerate(lines):
            right = head in (_NUMBER, _QUANTITY)
            pen.text(x + (wide - 3 if right else 0), y - at * _LINE, line, anchor="end" if right else "start")
        x += wide


def _cells(number: int, row: TakeoffRow, facts: Facts) -> list[list[str]]:
    units = facts.units
    how = gettext("counted")
    if row.length is not None:
        how = gettext("whole sticks, not cut before use") if row.whole else gettext("cut from sticks or offcuts")
    if row.trims:
        how += "; " + gettext("saw %(length)s off the last of each run") % {"length": length_text(row.trim, units)}
    if row.runs and row.whole:
        runs = {"runs": said_count(row.runs, "run"), "length": length_text(row.run, units)}
        how += "; " + gettext("%(runs)s of %(length)s") % runs
    texts = (
        str(number),
        said(row.purpose),
        facts.name_of(row.material),
        _both(row.length, units) if row.length is not None else "",
        format_count(row.quantity),
        how,
    )
    return [wrapped(text, wide - 3) for text, (_, wide) in zip(texts, _COLUMNS, strict=True)]
