"""What pages of charges show, gathered once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said_count, said_day
from farmbuild.coop.charges.proposals import ProposedCharge, days_out, proposed_charges
from farmbuild.coop.charges.rates import charge_rates_of, free_days_of
from farmbuild.coop.charges.selectors import damages_of_booking, entries_of_booking
from farmbuild.coop.models import Damage
from farmbuild.crew.bookings.photo_words import photos_told
from farmbuild.crew.bookings.photos import photos_of_booking
from farmbuild.crew.models import BenderBooking
from farmbuild.crew.people.words import days_words
from farmbuild.measure import format_money
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation

#: Charges that one press posts.
MOST_PROPOSED = 100
State = Damage.State


@dataclass(frozen=True)
class Proposed:
    """``rows``: what a press posts; ``seen``: as it is sent; ``more``: how many come after them."""

    rows: Sequence[ProposedCharge]
    seen: str
    more: int

    @property
    def count(self) -> int:
        return len(self.rows)

    @property
    def amount(self) -> Decimal:
        return sum((row.amount for row in self.rows), Decimal(0))


def _free_words(row: Any) -> str:
    if not row.days:
        return gettext("From %(day)s: no free days") % {"day": said_day(row.since)}
    words = ngettext("From %(day)s: %(count)s free day a share", "From %(day)s: %(count)s free days a share", row.days)
    return words % {"day": said_day(row.since), "count": row.days}


def proposed(*, organisation: Organisation) -> Proposed:
    found = proposed_charges(organisation=organisation)
    shown = found[:MOST_PROPOSED]
    return Proposed(shown, " ".join(one.token for one in shown), len(found) - len(shown))


def read_seen(text: str) -> list[str]:
    return text.split()[:MOST_PROPOSED]


@dataclass(frozen=True)
class RateRow:
    what: str
    whose: str
    since: date
    price: Decimal


def rates_page(*, organisation: Organisation) -> dict[str, Any]:
    """``rows``: prices; ``free``: free days in words, the latest first."""
    rows = [
        RateRow(row.get_kind_display(), str(row.bender or gettext("Every bender")), row.since, row.each)
        for row in charge_rates_of(organisation=organisation)
    ]
    free = [_free_words(row) for row in free_days_of(organisation=organisation)]
    return {"rows": rows, "free": free, "count": len(rows)}


def booking_page(booking: BenderBooking) -> dict[str, Any]:
    """One booking of a member that came back: its days, photos, what is posted, what would be, and damage."""
    organisation = booking.organisation
    left_on, back_on = days_out(booking, zone_of(organisation=organisation))
    late = max(0, (back_on - booking.last).days)
    facts = [
        (gettext("Out"), days_words(left_on, back_on)),
        (gettext("Days out"), said_count((back_on - left_on).days + 1, "day")),
        (gettext("Late"), said_count(late, "day") if late else gettext("no")),
        (gettext("Pulls"), gettext("not told") if booking.pulls is None else said_count(booking.pulls, "pull")),
        (gettext("Came back"), booking.back_condition),
    ]
    return {
        "booking": booking,
        "facts": facts,
        "photos": photos_told(photos_of_booking(booking=booking)),
        "entries": [*entries_of_booking(booking=booking)],
        "proposed": [one for one in proposed_charges(organisation=organisation) if one.booking.pk == booking.pk],
        "damages": [damage_told(damage) for damage in damages_of_booking(booking=booking)],
    }


@dataclass(frozen=True)
class ToldDamage:
    damage: Damage
    words: list[str]


def damage_told(damage: Damage) -> ToldDamage:
    """What became of it, in the order in which it did."""
    amount = format_money(damage.amount, damage.organisation.currency)
    asked = gettext("Asked for on %(day)s: %(amount)s.")
    words = [asked % {"day": said_day(damage.entry.day), "amount": amount}]
    if damage.disputed_why:
        words.append(gettext("Disputed: %(why)s") % {"why": damage.disputed_why})
    if damage.state == State.STANDS:
        words.append(gettext("It stands: %(why)s") % {"why": damage.answer})
    if damage.state == State.WITHDRAWN:
        words.append(gettext("Nothing is asked for it any more: %(why)s") % {"why": damage.answer})
    return ToldDamage(damage, words)
