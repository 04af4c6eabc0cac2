"""What the pages of time, equipment, trips and prices show, gathered once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said_day, said_list
from farmbuild.costs.equipment.proposals import ProposedDay
from farmbuild.costs.lists import equipment_rates_of, pay_rates_of, trip_rates_of
from farmbuild.costs.models import PaidTime, Posted
from farmbuild.costs.rates import PayRates
from farmbuild.costs.time.approved import NAMES, ApprovedHours, approved_hours, not_in_money_of, why_not
from farmbuild.costs.time.posting import told
from farmbuild.costs.trips.proposals import ProposedTrip
from farmbuild.measure import format_minutes, format_money
from farmbuild.orgs.models import Organisation

#: Proposals that a page lists, and one press records.
MOST_PROPOSED = 100
#: What hours wait for that one press puts into money.
NOTHING = gettext_lazy("nothing")


@dataclass(frozen=True)
class Waiting:
    """Approved hours that are not in money. ``why``: what they wait for; empty where a press is enough."""

    pk: int
    work: str
    house: str
    day: date
    length: str
    people: int
    why: str


def waiting(*, organisation: Organisation) -> list[Waiting]:
    rates = PayRates(organisation)
    approvals = [*not_in_money_of(organisation=organisation)]
    return [_waiting(one, rates) for one in approved_hours(organisation=organisation, approvals=approvals)]


def _waiting(hours: ApprovedHours, rates: PayRates) -> Waiting:
    return Waiting(
        pk=hours.approval.pk,
        work=hours.work,
        house=str(hours.house),
        day=hours.day,
        length=format_minutes(hours.minutes),
        people=hours.hours.people,
        why=why_not(hours, rates) or NOTHING,
    )


def time_page(*, organisation: Organisation) -> dict[str, Any]:
    """``ready``: how many one press puts into money; ``to_name``: the first whose people are to be named."""
    rows = waiting(organisation=organisation)
    return {
        "waiting": rows,
        "ready": sum(one.why == NOTHING for one in rows),
        "to_name": next((one.pk for one in rows if one.why == NAMES), None),
    }


def time_facts(row: PaidTime) -> list[tuple[str, Any]]:
    source = gettext("approved hours") if row.approval_id else gettext("typed")
    return [
        (gettext("What"), told(row)),
        (gettext("Who"), row.person),
        (gettext("How long"), format_minutes(abs(row.minutes))),
        (
            gettext("From"),
            gettext("%(source)s, past the end of the crew's day") % {"source": source} if row.after_hours else source,
        ),
    ]


def next_to_name(*, organisation: Organisation, after: int) -> int | None:
    """The key of the next approval after this one whose people are to be named; then from the first again."""
    keys = [one.pk for one in waiting(organisation=organisation) if one.why == NAMES and one.pk != after]
    return next((pk for pk in keys if pk > after), keys[0] if keys else None)


@dataclass(frozen=True)
class Proposed:
    """``seen``: what the press records."""

    words: list[str]
    seen: str
    more: int

    @property
    def count(self) -> int:
        return len(self.words)


def proposed(found: Sequence[ProposedDay | ProposedTrip], currency: str) -> Proposed:
    shown = found[:MOST_PROPOSED]
    words = [
        gettext("%(equipment)s at %(house)s, %(day)s: %(rate)s")
        % {
            "equipment": one.equipment,
            "house": one.house,
            "day": said_day(one.day),
            "rate": format_money(one.rate, currency),
        }
        if isinstance(one, ProposedDay)
        else gettext("%(crew)s to %(site)s for %(houses)s, %(day)s: %(rate)s")
        % {
            "crew": one.crew,
            "site": one.site,
            "houses": said_list(map(str, one.houses)),
            "day": said_day(one.day),
            "rate": format_money(one.rate, currency),
        }
        for one in shown
    ]
    return Proposed(words, " ".join(one.token for one in shown), len(found) - len(shown))


def read_seen(text: str) -> list[str]:
    return text.split()[:MOST_PROPOSED]


@dataclass(frozen=True)
class RateRow:
    what: str
    since: date
    price: Decimal


_TITLES = {
    "pay": gettext_lazy("An hour of work"),
    "equipment": gettext_lazy("A day of equipment"),
    "trips": gettext_lazy("A trip"),
}


def rates_page(*, organisation: Organisation) -> dict[str, Any]:
    """``kinds``: titles with their rows, those that have some; ``pay``: whether an hour has a price."""
    rows = {
        "pay": [RateRow(str(row), row.since, row.an_hour) for row in pay_rates_of(organisation=organisation)],
        "equipment": [RateRow(str(row), row.since, row.a_day) for row in equipment_rates_of(organisation=organisation)],
        "trips": [RateRow(str(row), row.since, row.each) for row in trip_rates_of(organisation=organisation)],
    }
    kinds = [(kind, _TITLES[kind], some) for kind, some in rows.items() if some]
    return {"kinds": kinds, "count": sum(map(len, rows.values())), "pay": bool(rows["pay"])}


def row_page(row: Posted, parts: Iterable[tuple[str, Any]]) -> dict[str, Any]:
    """One row that was charged, in words; ``counts``: it can be taken back."""
    currency = row.organisation.currency
    other = row.reverses or getattr(row, "reversed_by", None)
    facts = [
        *parts,
        (gettext("Price"), format_money(row.rate, currency)),
        (gettext("Cost"), format_money(row.amount, currency)),
        (gettext("Recorded by"), row.by.display_name if row.by else ""),
    ]
    return {
        "row": row,
        "facts": [(name, value) for name, value in facts if value not in ("", None)],
        "other": other,
        "counts": other is None,
        "amount": format_money(row.amount, currency),
        "day": said_day(row.day),
    }
