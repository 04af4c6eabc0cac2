"""Charges in words."""

from __future__ import annotations

from collections.abc import Sequence

from farmbuild.coop.charges.bridge import ChargeLine
from farmbuild.coop.models import MemberEntry
from farmbuild.crew.models import BenderBooking
from farmbuild.crew.people.words import days_words
from farmbuild.measure import count_noun, format_money, join_words, use_amounts
from farmbuild.orgs.models import Organisation

Kind = MemberEntry.Kind
_THINGS = {Kind.DAYS: "day", Kind.PULLS: "pull", Kind.LATE: "day late"}
_SEVERAL = {Kind.LATE: "days late"}
#: As long as an entry says.
_LONGEST = 200


def said(booking: BenderBooking, kind: Kind, lines: Sequence[ChargeLine], organisation: Organisation) -> str:
    """How a charge came about: how many at which price, the bender, its days.

    What differs between the charges of one booking comes first: a row of a phone is cut behind it.
    """
    if not lines:
        return ""
    # Kept with the charge, whoever posts it.
    with use_amounts(True):
        parts = [_line(kind, line, organisation) for line in lines]
    days = days_words(lines[0].first, lines[-1].last)
    words = f"{join_words(parts)}: {booking.bender}, {days}"
    if len(words) > _LONGEST:
        counted = _counted(kind, sum(line.count for line in lines if not line.once))
        words = f"{counted} at {count_noun(len(lines), 'price')}: {booking.bender}, {days}"
    return words


def _line(kind: Kind, line: ChargeLine, organisation: Organisation) -> str:
    if kind == Kind.LATE and line.once:
        return f"a late return at {format_money(line.each, organisation.currency)}"
    counted = _counted(kind, line.count)
    if line.free == line.count:
        return f"{counted} free"
    each = format_money(line.each, organisation.currency)
    return f"{counted} at {each}" + (f", {line.free} of them free" if line.free else "")


def _counted(kind: Kind, count: int) -> str:
    thing = _THINGS[kind]
    return count_noun(count, thing, _SEVERAL.get(kind, f"{thing}s"))
