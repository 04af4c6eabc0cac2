"""What the page of savings shows."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.bars import Bar, bars
from farmbuild.common.speaking import said, said_count, said_list
from farmbuild.measure import UnitSystem, format_length, format_money
from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan, PlanSavings
from farmbuild.plans.savings.bridge import (
    NoLeast,
    OneLength,
    Saving,
    Season,
    caution_of,
    change_of,
    houses_in_words,
    saving_of,
    title_of,
)

#: Names of houses in a bar; the rest are counted.
SHOWN = 12


@dataclass(frozen=True)
class SavingRow:
    """``row``: its number in the search, by which it is tried."""

    row: int
    title: str
    saved: Decimal
    houses: str
    bought: str
    left: Decimal
    caution: str

    @property
    def costs(self) -> Decimal:
        """What it costs more; 0 or less where it does not."""
        return -self.saved

    @property
    def less_left(self) -> Decimal:
        """What the leftovers are worth less."""
        return -self.left


@dataclass(frozen=True)
class SavingsShown:
    rows: list[SavingRow]
    picture: SafeString | str
    lengths: list[SavingRow] = field(default_factory=list)
    later: list[SavingRow] = field(default_factory=list)
    least: list[SavingRow] = field(default_factory=list)

    @property
    def most(self) -> Decimal:
        return self.rows[0].saved


def savings_shown(*, search: PlanSavings, season: Season, organisation: Organisation) -> SavingsShown:
    found = [saving_of(packed) for packed in search.found or []]
    rows = [_row(n, one, season) for n, one in enumerate(found)]
    others = _others(search, season, len(rows))
    if not rows:
        return SavingsShown([], "", **others)
    told = [(row.title, row.saved, format_money(row.saved, organisation.currency)) for row in rows[:SHOWN]]
    picture = bars(
        [Bar(title, 0.0, float(saved), money) for title, saved, money in told],
        gettext("What each change saves"),
        "; ".join(f"{title}: {money}" for title, _, money in told),
    )
    return SavingsShown(rows, picture, **others)


def _others(search: PlanSavings, season: Season, first: int) -> dict[str, list[SavingRow]]:
    """What another way of buying saves or costs, by kind; the rows count on behind ``first``."""
    found = [saving_of(packed) for packed in search.buying or []]
    rows = [(one.change, _row(first + n, one, season)) for n, one in enumerate(found)]
    return {
        "lengths": [row for change, row in rows if isinstance(change, OneLength)],
        "later": [row for change, row in rows if not isinstance(change, OneLength | NoLeast)],
        "least": [row for change, row in rows if isinstance(change, NoLeast)],
    }


def _row(n: int, one: Saving, season: Season) -> SavingRow:
    title = said(title_of(one.change, season))
    return SavingRow(
        row=n,
        title=title[:1].upper() + title[1:],
        saved=one.saved,
        houses=said(houses_in_words(one.change, season)),
        bought=_bought(one, season),
        left=one.left,
        caution=said(caution_of(one.change)),
    )


def _bought(one: Saving, season: Season) -> str:
    """'10 fewer of EMT 3/4 10'; 2 more of ...'"""
    names = {material.code: material.name for material in season.materials}

    def told(material: str, length: Decimal | None, n: int) -> str:
        long = f", {format_length(length, UnitSystem(season.buyer.units))}" if length else ""
        words = gettext("%(pieces)s fewer of %(what)s") if n > 0 else gettext("%(pieces)s more of %(what)s")
        return words % {"pieces": said_count(abs(n), "piece"), "what": f"{names[material]}{long}"}

    return said_list([told(*row) for row in sorted(one.fewer, key=lambda row: -row[2])])


def tried_shown(plan: Plan, season: Season) -> dict[str, str]:
    """What a plan tries of its houses, in words; {} where it takes them as they are."""
    if plan.tried is None:
        return {}
    change = change_of(plan.tried)
    return {
        "title": said(title_of(change, season)),
        "houses": said(houses_in_words(change, season)),
        "caution": said(caution_of(change)),
    }
