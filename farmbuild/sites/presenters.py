"""What a house page and a take-off page show: figures with their working, drawings, rows."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from functools import partial
from typing import Any

from django.utils.safestring import SafeString
from django.utils.text import capfirst
from django.utils.translation import gettext

from farmbuild.common.drawing import PERSON
from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.speaking import said
from farmbuild.hoops.recipes.bridge import spring_range
from farmbuild.hoops.recipes.words import pipe_words
from farmbuild.measure import by_sign
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import (
    GROUPS,
    DrawnHouse,
    HouseShape,
    drawn_of,
    materials_in,
    own_rows_of,
    spec_problems,
    spec_remarks_of,
    take_off_of,
    totals_of,
)
from farmbuild.sites.drawings import HouseDrawing
from farmbuild.sites.lit_drawings import DRAWN, LitDrawing
from farmbuild.sites.models import House
from farmbuild.sites.own_rows import own_row_words
from farmbuild.sites.starters import Starter, starter_house, starters_in

#: Units on the sheet for the span of the widest starter; heights, a person and their words take the rest.
ONE_SCALE_WIDTH = 240.0
#: Of each view of a house on its sheet: units for its height, and mm of room on paper, which has all of them.
SHEET_TALLEST, SHEET_PAPER = 130.0, (170.0, 82.0)


@dataclass(frozen=True)
class HouseSheet:
    """The house on one sheet, its dimensions leading to their working; ``ends`` by what they are called.

    ``sides``: how they close, in words.
    """

    section: SafeString
    along: SafeString
    ends: tuple[tuple[str, SafeString], ...]
    sides: str


@dataclass(frozen=True)
class HousePage:
    """``problems`` and ``remarks`` are (field label, message); with a problem nothing is drawn, else what is asked for.

    The drawings are made as they are asked for.
    """

    problems: list[tuple[str, str]]
    remarks: list[tuple[str, str]] = field(default_factory=list)
    shape: HouseShape | None = None
    figures: list[Figure] = field(default_factory=list)
    draw: HouseDrawing | None = None
    own_rows: list[str] = field(default_factory=list)

    @property
    def sheet(self) -> HouseSheet | None:
        if self.draw is None:
            return None
        keys = frozenset(figure.key for figure in self.figures)
        draw = replace(self.draw, workings=keys, tallest=SHEET_TALLEST, paper=SHEET_PAPER)
        section, ends = draw.across()
        sides = self.draw.house.sides
        return HouseSheet(section, draw.along(), ends, said(sides.words) if sides else "")

    @property
    def section(self) -> SafeString | None:
        return self.draw and self.draw.section()

    @property
    def side(self) -> SafeString | None:
        return self.draw and self.draw.side()

    @property
    def plan(self) -> SafeString | None:
        return self.draw and self.draw.plan()


@dataclass(frozen=True)
class PartGroup:
    """Rows of parts that are looked at together; ``drawing`` has them heavy."""

    key: str
    name: str
    rows: list[dict[str, Any]]
    drawing: SafeString | None = None


@dataclass(frozen=True)
class TakeoffPage:
    """``rows`` and ``totals`` are ready for TakeoffTable and TotalsTable."""

    house: HousePage
    rows: list[dict[str, Any]] = field(default_factory=list)
    groups: list[PartGroup] = field(default_factory=list)
    totals: list[dict[str, Any]] = field(default_factory=list)

    @property
    def hoop_sticks(self) -> int:
        return sum(row["quantity"] for row in self.rows if row["purpose"] == "hoops")

    @property
    def more(self) -> int:
        """Lines besides the hoops."""
        return sum(row["purpose"] != "hoops" for row in self.rows)


def labelled(found: list[tuple[str, str]]) -> list[tuple[str, str]]:
    labels = {row.name: capfirst(said(str(row.verbose_name))) for row in House._meta.fields}
    labels["own_rows"] = gettext("Rows of its own")
    return [(labels.get(name, name), said(message)) for name, message in found]


def _side_figures(house: House, drawn: DrawnHouse, units: str) -> list[Figure]:
    text = partial(length_text, units=units)
    shape, side = drawn.shape, drawn.sides
    if side is None:
        return []
    figures = [
        Figure(
            gettext("Film needed to spare, each side"),
            gettext("%(closing)s: from the ends of the hoop, %(text)s above the ground, down. The spec has %(text_2)s.")
            % {
                "closing": capfirst(house.get_side_closing_display()),
                "text": text(shape.foot_height),
                "text_2": text(house.film_side_allowance),
            },
            length=side.needed,
            key="film",
        )
    ]
    if side.curtain_top is not None:
        figures.append(
            Figure(
                gettext("Width of a side curtain"),
                gettext("From the hip board, %(text)s up, + %(text_2)s to spare.")
                % {"text": text(side.curtain_top), "text_2": text(house.curtain_spare)},
                length=side.curtain_width,
                key="curtain",
            )
        )
    return figures


def _figures(house: House, shape: HouseShape, units: str) -> list[Figure]:
    text = partial(length_text, units=units)
    recipe = house.recipe
    return [
        Figure(
            gettext("Hoops"),
            gettext(
                "%(text)s at no more than %(text_2)s makes %(bays)s bays, rounded up; one hoop more than "
                "bays: %(hoops)s."
            )
            % {
                "text": text(shape.length),
                "text_2": text(house.spacing_wanted),
                "bays": shape.bays,
                "hoops": shape.hoops,
            },
            text=str(shape.hoops),
            key="hoops",
        ),
        Figure(
            gettext("Hoop spacing"),
            gettext("%(text)s shared over %(bays)s bays.") % {"text": text(shape.length), "bays": shape.bays},
            length=shape.spacing,
            key="spacing",
        ),
        Figure(
            gettext("Pipe in one hoop"),
            pipe_words(recipe, units),
            length=shape.developed,
            key="pipe",
        ),
        Figure(
            gettext("Free span"),
            gettext(
                "The ends of the pipe as its pulls leave it on a radius of %(text)s; the page of the "
                "recipe shows them pull by pull."
            )
            % {"text": text(recipe.radius)},
            length=shape.free_span,
            key="free",
        ),
        Figure(
            gettext("Spring-in"),
            gettext("Free span %(text)s less post span %(text_2)s. %(spring_range)s")
            % {
                "text": text(shape.free_span),
                "text_2": text(shape.span),
                "spring_range": said(spring_range(recipe, shape.span, units)),
            },
            length=shape.spring_in,
            key="spring",
        ),
        Figure(
            gettext("Rise of the hoop"),
            gettext("The arc of %(text)s of pipe over %(text_2)s, from its ends to the crown.")
            % {"text": text(shape.developed), "text_2": text(shape.span)},
            length=shape.rise,
            key="rise",
        ),
        Figure(
            gettext("Ends of the hoop above the ground"),
            gettext("Posts %(text)s above the ground less socket depth %(text_2)s.")
            % {"text": text(shape.post_above), "text_2": text(shape.socket_depth)},
            length=shape.foot_height,
            key="foot",
        ),
        Figure(
            gettext("Ridge above the ground"),
            gettext("Ends of the hoop %(text)s above the ground + rise %(text_2)s.")
            % {"text": text(shape.foot_height), "text_2": text(shape.rise)},
            length=shape.ridge_height,
            key="ridge",
        ),
    ]


def house_page(house: House, *, organisation: Organisation) -> HousePage:
    """``house`` comes with recipe, tube and materials loaded."""
    units = organisation.unit_system
    own = [own_row_words(row, units) for row in own_rows_of(house)]
    if problems := labelled(spec_problems(house, units)):
        return HousePage(problems, own_rows=own)
    drawn = drawn_of(house, units)
    draw = HouseDrawing(drawn, house.name, units)
    return HousePage(
        problems=[],
        remarks=labelled(spec_remarks_of(house, units)),
        shape=drawn.shape,
        figures=[*_figures(house, drawn.shape, units), *_side_figures(house, drawn, units)],
        draw=draw,
        own_rows=own,
    )


def takeoff_page(house: House, *, organisation: Organisation) -> TakeoffPage:
    """Rows and totals, each with the name of its material."""
    page = house_page(house, organisation=organisation)
    if page.problems:
        return TakeoffPage(page)
    names = {code: material.name for code, material in materials_in(house).items()}
    rows = take_off_of(house, organisation.unit_system)
    shown = [asdict(row) | {"material_name": names[row.material], "working": said(row.working)} for row in rows]
    return TakeoffPage(
        page,
        shown,
        _groups(house, shown, drawn_of(house, organisation.unit_system)),
        [
            asdict(total) | {"material_name": names[total.material], "total_length": total.total_length or None}
            for total in totals_of(rows)
        ],
    )


def _groups(house: House, rows: list[dict[str, Any]], drawn: DrawnHouse) -> list[PartGroup]:
    found = []
    for group in GROUPS:
        own = [row for row in rows if group.takes(row["purpose"])]
        drawing = LitDrawing(drawn, house.name, group.key, group.name) if group.key in DRAWN else None
        if own:
            found.append(PartGroup(group.key, said(group.name), own, drawing.svg() if drawing else None))
    return found


def shown_starter(starter: Starter) -> Starter:
    """Its name and summary with numbers as the reader writes them."""
    return replace(starter, name=by_sign(said(starter.name)), summary=by_sign(said(starter.summary)))


def starter_drawings(*, organisation: Organisation, units: str) -> list[tuple[Starter, SafeString | str]]:
    """Every starter in those units with its section, all at one scale; the blank one, which has none, is last."""
    shown = [(starter, _drawn_starter(starter, organisation)) for starter in map(shown_starter, starters_in(units))]
    widest = max(draw.shape.span for _, draw in shown if draw)
    scale = ONE_SCALE_WIDTH / float(widest)
    shown.sort(key=lambda each: each[1] is None)
    return [(starter, draw.beside_a_person(scale) if draw else "") for starter, draw in shown]


def _drawn_starter(starter: Starter, organisation: Organisation) -> HouseDrawing | None:
    if not starter.recipe:
        return None
    house = drawn_of(starter_house(starter), organisation.unit_system)
    return HouseDrawing(house, starter.name, organisation.unit_system)


def person_text(units: str) -> str:
    """How tall the person is that houses are drawn beside."""
    return length_pair_text(PERSON, units)
