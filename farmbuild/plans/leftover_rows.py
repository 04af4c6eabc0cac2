"""What is still there when every house of a plan stands, and where everything went."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said
from farmbuild.common.strips import Part, strip
from farmbuild.measure.speech import gettext_noop
from farmbuild.plans.bridge import Balance, Kind, Season, SeasonPlan

SOURCES = {
    "lot": gettext_noop("not used"),
    "bought": gettext_noop("rest of a pack"),
    "cut": gettext_noop("left from cutting"),
}


@dataclass(frozen=True)
class LeftRow:
    material: str
    length: Decimal | None
    quantity: int
    place: str
    lot: str
    what: str
    offcut: bool
    value: Decimal
    #: Film is long: its bars have a scale of their own.
    film: bool = False


def rows_of(season: Season, plan: SeasonPlan) -> list[LeftRow]:
    """In the planner's order; a place that is a site goes by the site's name."""
    names = {material.code: material.name for material in season.materials}
    films = {material.code for material in season.materials if material.kind == Kind.FILM}
    sites = {site.code: site.name for site in season.sites}
    return [
        LeftRow(
            material=names[row.material],
            length=row.length,
            quantity=row.quantity,
            place=sites.get(row.place, row.place),
            lot=row.lot,
            what=_what(offcut=row.offcut, source=row.source),
            offcut=row.offcut,
            value=row.value,
            film=row.material in films,
        )
        for row in plan.leftovers
    ]


def _what(*, offcut: bool, source: str) -> str:
    what = gettext("Offcut, %(source)s") if offcut else gettext("Whole, %(source)s")
    return what % {"source": said(SOURCES[source])}


@dataclass(frozen=True)
class Bar:
    """A row as a bar of its length, dashed where it is an offcut; ``heads``: its material's name stands over it."""

    row: LeftRow
    drawing: SafeString | str
    heads: bool


def bars_of(every: Sequence[LeftRow], shown: Iterable[LeftRow], units: str) -> list[Bar]:
    """Of those that are ``shown``, to the scale of the longest of ``every`` one: film by itself, all else together."""
    longest = {
        film: max((row.length for row in every if row.length is not None and row.film == film), default=Decimal(0))
        for film in (True, False)
    }
    bars: list[Bar] = []
    for number, row in enumerate(shown, start=1):
        drawing: SafeString | str = ""
        if row.length:
            size = length_text(row.length, units)
            part = Part(Decimal(0), row.length, size, "end" if row.offcut else "cut")
            told = {"quantity": row.quantity, "length": size, "what": row.what}
            words = gettext("%(quantity)s of %(length)s. %(what)s.") % told
            drawing = strip(f"l{number}", [part], [], longest[row.film], f"{row.material}, {size}", words)
        bars.append(Bar(row, drawing, not bars or bars[-1].row.material != row.material))
    return bars


def offcut_pieces(rows: Iterable[LeftRow]) -> int:
    return sum(row.quantity for row in rows if row.offcut)


@dataclass(frozen=True)
class BalanceRow:
    material: str
    balance: Balance


def balances_of(season: Season, plan: SeasonPlan) -> list[BalanceRow]:
    names = {material.code: material.name for material in season.materials}
    return [BalanceRow(names[balance.material], balance) for balance in plan.balances]
