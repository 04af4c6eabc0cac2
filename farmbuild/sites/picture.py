"""What stands beside the form of a house: the house as it is typed, drawn, counted and priced. Nothing is stored."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field

from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from farmbuild.catalogue.selectors import prices_of
from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said, said_count, said_list
from farmbuild.measure import amounts_shown, format_about, format_count
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
            problems.setdefault(OWN_ROWS if name == "own_rows" else name, []).append(said(told))
    return Picture(problems=problems, missing=missing) if problems else _drawn(house, organisation)


def _drawn(house: House, organisation: Organisation) -> Picture:
    units = organisation.unit_system
    drawn = drawn_of(house, units)
    draw = HouseDrawing(drawn, house.name or gettext("New house"), units, tallest=TALLEST, whole=False)
    views = [("section", draw.section()), ("side", draw.side())]
    views += [(wall.name, draw.end(wall)) for wall in drawn.end_walls]
    rows = take_off_typed(house, units)
    sticks = sum(row.quantity for row in rows if row.purpose == "hoops")
    each = gettext("%(length)s of %(tube)s") % {
        "length": length_text(house.recipe.stick_length, units),
        "tube": house.recipe.tube.name,
    }
    cost, more = _cost(house, rows, organisation)
    return Picture(
        views=views,
        counts=f"{said_count(drawn.shape.hoops, 'hoop')}, {said_count(sticks, 'stick')}",
        cost=cost,
        more=[gettext("The sticks of the hoops are %(each)s.") % {"each": each}, *more],
    )


def _cost(house: House, rows: tuple[TakeoffRow, ...], organisation: Organisation) -> tuple[str, list[str]]:
    """In a few words, and in sentences what it is of; nothing to who sees no costs."""
    if not amounts_shown():
        return "", []
    known = materials_in(house)
    prices = prices_of(organisation=organisation, codes=known.keys(), on=today_of(organisation=organisation))
    rough = rough_cost_of(rows, prices, house, organisation.kerf)
    unpriced = []
    if rough.unpriced:
        names = [known[code].name for code in rough.unpriced]
        rest = len(names) - _NAMED
        listed = said_list([*names[:_NAMED], *([gettext("%(rest)s more") % {"rest": rest}] if rest > 0 else [])])
        words = ngettext(
            "%(count)s material has no price: %(listed)s.", "%(count)s materials have no price: %(listed)s.", len(names)
        )
        unpriced = [words % {"count": format_count(len(names)), "listed": listed}]
    if not rough.priced:
        return gettext("no rough cost yet"), unpriced
    taxed = (
        gettext("with tax, before delivery") if organisation.prices_include_tax else gettext("before tax and delivery")
    )
    words = gettext("about %(amount)s") % {"amount": format_about(rough.amount, organisation.currency)}
    return words, [
        gettext("Rough cost of %(materials)s at your best offers, all bought new, %(taxed)s.")
        % {"materials": said_count(rough.priced, "material"), "taxed": taxed},
        *unpriced,
    ]
