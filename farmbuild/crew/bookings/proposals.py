"""The proposal for all open requests, worked out from rows as they are now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from farmbuild.crew.bookings.selectors import fits_of, open_requests_of, spans_of, turns_of
from farmbuild.crew.bookings.words import who
from farmbuild.crew.bridge import Taken, Turn, Wanted, share
from farmbuild.crew.models import BenderRequest, Member
from farmbuild.crew.people.words import days_words
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

#: As many as one proposal takes, by need date; the rest wait for the next.
MAX_REQUESTS = 60


@dataclass(frozen=True)
class Row:
    """``bender`` None: not given. ``key``: what a tick sends back."""

    request: BenderRequest
    reason: str
    bender: Bender | None = None
    first: date | None = None
    last: date | None = None

    @property
    def key(self) -> str:
        return f"{self.request.pk}_{self.bender and self.bender.pk}_{self.first}_{self.last}"

    @property
    def days(self) -> str:
        return days_words(self.first, self.last) if self.first and self.last else ""


@dataclass(frozen=True)
class Proposed:
    given: list[Row]
    not_given: list[Row]
    exact: bool
    left_over: int

    @property
    def asked(self) -> int:
        return len(self.given) + len(self.not_given)


def proposal_of(*, organisation: Organisation) -> Proposed:
    """The same for the same rows. At most ``MAX_REQUESTS`` requests; ``left_over`` more are not looked at."""
    today = today_of(organisation=organisation)
    rows = open_requests_of(organisation=organisation)
    requests = list(rows[:MAX_REQUESTS])
    fits = fits_of(organisation=organisation, requests=requests)
    benders = {str(bender.pk): bender for found in fits.values() for bender in found}
    names = dict(Member.objects.of(organisation).values_list("pk", "name"))
    found = share(
        [
            Wanted(
                ref=str(row.pk),
                member=row.member.name,
                days=row.days,
                earliest=row.earliest,
                need_by=row.need_by,
                benders=tuple(str(bender.pk) for bender in fits[row.pk]),
                asked=row.pk,
            )
            for row in requests
        ],
        {ref: bender.name for ref, bender in benders.items()},
        [
            Taken(str(row.bender_id), row.first, last, who(row) if row.member else "our own work")
            for row, last in spans_of(organisation=organisation, today=today)
        ],
        today,
        {names[member]: Turn(last, days) for member, (last, days) in turns_of(organisation=organisation).items()},
    )
    by_ref = {str(row.pk): row for row in requests}
    return Proposed(
        given=[
            Row(by_ref[row.request.ref], row.reason, benders[row.bender], row.first, row.last) for row in found.given
        ],
        not_given=[Row(by_ref[row.request.ref], row.reason) for row in found.not_given],
        exact=found.exact,
        left_over=max(0, rows.count() - len(requests)),
    )
