"""Who is booked on a bender that drifts or whose service is overdue: worked out when it is asked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext

from farmbuild.common.speaking import said_list
from farmbuild.crew.bookings.selectors import open_bookings_of
from farmbuild.crew.bookings.words import days_of, who
from farmbuild.crew.models import BenderBooking, Member
from farmbuild.hoops.batches.measured.findings import Finding, due_words, findings_in, findings_of
from farmbuild.hoops.batches.measured.wear import wear_by_bender, wear_of
from farmbuild.hoops.batches.measured.wear_page import accepted_words
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

#: Bookings named where a bender is warned of; the rest is counted.
NAMED = 6


@dataclass(frozen=True)
class BenderNews:
    """What whoever fetches a bender should know. ``accepted``: its last accepted trial hoop, in words."""

    findings: list[Finding]
    accepted: str


def news_of(*, bender: Bender, by: bool) -> BenderNews:
    """``by``: say by whom the trial hoop was accepted; a member sees the day alone."""
    wear = wear_of(bender=bender)
    return BenderNews(findings_in(wear), accepted_words(wear, who=by))


def warned_bookings(*, organisation: Organisation) -> Iterator[tuple[BenderBooking, list[Finding]]]:
    """Bookings that are out or to come, of benders of which something is to be said; the next first."""
    yield from _warned(open_bookings_of(organisation=organisation, today=today_of(organisation=organisation)))


def own_findings(*, member: Member) -> list[Finding]:
    """Of benders that this member has or is to have, each bender once."""
    organisation = member.organisation
    rows = open_bookings_of(organisation=organisation, today=today_of(organisation=organisation)).filter(member=member)
    found: dict[int, list[Finding]] = {}
    for booking, findings in _warned(rows):
        found.setdefault(booking.bender_id, findings)
    return [finding for findings in found.values() for finding in findings]


@dataclass(frozen=True)
class SharedWear:
    """One bender of which something is to be said, with who is booked on it."""

    bender: Bender
    title: str
    words: str


def shared_wear(*, organisation: Organisation, benders: Sequence[Bender]) -> list[SharedWear]:
    """Of these benders: what is found, with whom it concerns, and services that are due soon."""
    booked: dict[int, list[str]] = defaultdict(list)
    today = today_of(organisation=organisation)
    for row in open_bookings_of(organisation=organisation, today=today).filter(bender__in=benders):
        booked[row.bender_id].append(f"{who(row)} {days_of(row)}")
    found = []
    for wear in wear_by_bender(organisation=organisation, benders=benders).values():
        bender, findings = wear.bender, findings_in(wear)
        if findings:
            rows = booked[bender.pk]
            named = said_list(rows[:NAMED])
            if rows[NAMED:]:
                named = gettext("%(rows)s and %(more)s more") % {
                    "rows": ", ".join(rows[:NAMED]),
                    "more": len(rows) - NAMED,
                }
            more = gettext("Booked: %(rows)s.") % {"rows": named}
            titles = said_list(dict.fromkeys(finding.title.lower() for finding in findings))
            found.append(
                SharedWear(bender, f"{bender}: {titles}.", more if rows else gettext("Nobody is booked on it."))
            )
        elif wear.due.soon:
            found.append(
                SharedWear(bender, gettext("%(bender)s: service due soon.") % {"bender": bender}, due_words(wear))
            )
    return found


def _warned(rows: Iterable[BenderBooking]) -> Iterator[tuple[BenderBooking, list[Finding]]]:
    rows = list(rows)
    benders = {row.bender_id: row.bender for row in rows}
    if not benders:
        return
    organisation = rows[0].organisation
    for bender in benders.values():
        bender.organisation = organisation
    findings = findings_of(organisation=organisation, benders=list(benders.values()))
    for row in rows:
        if found := findings.get(row.bender_id):
            yield row, found
