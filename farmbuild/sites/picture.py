"""What stands beside the form of a house: the house as it is typed, drawn, counted and priced. Nothing is stored."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field

from django.utils.safestring import SafeString

from farmbuild.catalogue.selectors import prices_of
from farmbuild.common.lengths import length_text
from farmbuild.measure import amounts_shown, count_noun, format_about, join_words
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import (
    SPEC_FIELDS,
    TakeoffRow,
    drawn_of,
    materials_in,
    rough_cost_of,
    spec_problems,
    take_off_typed,
)
from farmbuild.sites.drawings import HouseDrawing
from farmbuild.sites.forms import HouseForm
from farmbuild.sites.models import House
from farmbuild.sites.own_rows import NAME as OWN_ROWS
from farmbuild.sites.own_rows import OwnRows

#: Units on the sheet for the height of a house: with its posts and dimension lines it takes 150 pixels of a phone.
TALLEST = 78.0
#: More names than these make no line.
_NAMED = 4


@dataclass(frozen=True)
class Picture:
    """``views`` are (name, drawing), none where something keeps the house from being drawn: ``problems`` by field, of
    which ``missing`` are only not filled in yet. ``counts`` and ``cost`` in a few words each, ``more`` in sentences."""

    views: list[tuple[str, SafeString]] = field(default_factory=list)
    problems: dict[str, list[str]] = field(default_factory=dict)
    missing: frozenset[str] = frozenset()
    counts: str = ""
    cost: str = ""
    more: list[str] = field(default_factory=list)

    @property
    def told(self) -> dict[str, list[str]]:
        """By field, what is told there while it is typed: what is not filled in yet is no mistake."""
        return {name: told for name, told in self.problems.items() if name not in self.missing}

    @property
    def first_problem(self) -> str:
        return next((told[0] for told in self.problems.values()), "")


def picture_of(form: HouseForm, rows: OwnRows) -> Picture:
    """Of a form that was opened or sent, right or not."""
    organisation = form.organisation
    problems = {name: list(told) for name, told in form.errors.items() if name in SPEC_FIELDS}
    missing = frozenset(
        name for name in problems if all(error.code == "required" for error in form.errors[name].as_data())
    )
    house = copy(form.typed())
    house.typed_rows = rows.typed()
    if not problems:
        missing = frozenset(name for name in ("recipe",) if not house.recipe_id)
        problems = {name: [form.fields[name].error_messages["required"]] for name in missing}
    if not problems:
        for name, told in spec_problems(house, organisation.unit_system):
            problems.setdefault(OWN_ROWS if name == "own_rows" else name, []).append(told)
    return Picture(problems=problems, missing=missing) if problems else _drawn(house, organisation)


def _drawn(house: House, organisation: Organisation) -> Picture:
    units = organisation.unit_system
    drawn = drawn_of(house, units)
    draw = HouseDrawing(drawn, house.name or "New house", units, tallest=TALLEST, whole=False)
    views = [("section", draw.section()), ("side", draw.side())]
    views += [(wall.name, draw.end(wall)) for wall in drawn.end_walls]
    rows = take_off_typed(house, units)
    sticks = sum(row.quantity for row in rows if row.purpose == "hoops")
    each = f"{length_text(house.recipe.stick_length, units)} of {house.recipe.tube.name}"
    cost, more = _cost(house, rows, organisation)
    return Picture(
        views=views,
        counts=f"{count_noun(drawn.shape.hoops, 'hoop')}, {count_noun(sticks, 'stick')}",
        cost=cost,
        more=[f"The sticks of the hoops are {each}.", *more],
    )


def _cost(house: House, rows: tuple[TakeoffRow, ...], organisation: Organisation) -> tuple[str, list[str]]:
    """In a few words, and in sentences what it is of; nothing to who sees no costs."""
    if not amounts_shown():
        return "", []
    known = materials_in(house)
    prices = prices_of(organisation=organisation, codes=known.keys(), on=today_of(organisation=organisation))
    rough = rough_cost_of(rows, prices, house, organisation.kerf)
    said = []
    if rough.unpriced:
        names = [known[code].name for code in rough.unpriced]
        rest = len(names) - _NAMED
        listed = join_words([*names[:_NAMED], *([f"{rest} more"] if rest > 0 else [])])
        have = "has" if len(names) == 1 else "have"
        said = [f"{count_noun(len(names), 'material')} {have} no price: {listed}."]
    if not rough.priced:
        return "no rough cost yet", said
    taxed = "with tax, before delivery" if organisation.prices_include_tax else "before tax and delivery"
    words = f"about {format_about(rough.amount, organisation.currency)}"
    return words, [
        f"Rough cost of {count_noun(rough.priced, 'material')} at your best offers, all bought new, {taxed}.",
        *said,
    ]
