"""The proposal for all open requests, worked out from rows as they are now."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.bars import Bar, bars
from farmbuild.common.speaking import said, said_count
from farmbuild.crew.bookings.having import Had, had_by_member, sharing_rules_of
from farmbuild.crew.bookings.selectors import fits_of, open_requests_of, spans_of
from farmbuild.crew.bookings.words import who
from farmbuild.crew.bridge import (
    Bound,
    MemberDays,
    RulesOfSharing,
    Standing,
    Taken,
    Wanted,
    level_words,
    share,
)
from farmbuild.crew.models import BenderRequest, Member, SharingRules
from farmbuild.crew.people.words import days_words
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

#: As many as one proposal takes: the first wish of every member by need date, then the second of each, and so on.
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
class MemberRow:
    """A member that asks: days this season and in the last, asked for and given; days per share before and after."""

    member: Member
    had: Had
    days: MemberDays

    @property
    def before(self) -> str:
        return said(level_words(self.days.before))

    @property
    def after(self) -> str:
        return said(level_words(self.days.after))


@dataclass(frozen=True)
class Proposed:
    given: list[Row]
    not_given: list[Row]
    exact: bool
    left_over: int
    members: list[MemberRow]
    bound: str
    rules: SharingRules

    @property
    def asked(self) -> int:
        return len(self.given) + len(self.not_given)


def proposal_of(*, organisation: Organisation) -> Proposed:
    """The same for the same rows. At most ``MAX_REQUESTS`` requests; ``left_over`` more are not looked at."""
    today = today_of(organisation=organisation)
    rows = in_rounds(list(open_requests_of(organisation=organisation)))
    requests = rows[:MAX_REQUESTS]
    fits = fits_of(organisation=organisation, requests=requests)
    benders = {str(bender.pk): bender for found in fits.values() for bender in found}
    rules = sharing_rules_of(organisation=organisation)
    had = had_by_member(organisation=organisation, rules=rules)
    members = {str(row.member_id): row.member for row in requests}
    found = share(
        [
            Wanted(
                ref=str(row.pk),
                member=str(row.member_id),
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
            Taken(str(row.bender_id), row.first, last, who(row) if row.member else gettext("our own work"))
            for row, last in spans_of(organisation=organisation, today=today)
        ],
        today,
        {key: _standing(member, had.get(member.pk, Had())) for key, member in members.items()},
        RulesOfSharing(
            last_season_percent=rules.last_season_percent,
            days_a_week_sooner=rules.days_a_week_sooner,
            together=rules.together,
            most_days_open=rules.most_days_open,
        ),
    )
    by_ref = {str(row.pk): row for row in requests}
    by_days = sorted(found.members, key=lambda row: (row.before, members[row.member].name, row.member))
    return Proposed(
        given=[
            Row(by_ref[row.request.ref], row.reason, benders[row.bender], row.first, row.last) for row in found.given
        ],
        not_given=[Row(by_ref[row.request.ref], row.reason) for row in found.not_given],
        exact=found.exact,
        left_over=len(rows) - len(requests),
        members=[MemberRow(members[row.member], had.get(members[row.member].pk, Had()), row) for row in by_days],
        bound=bound_words(found.bound),
        rules=rules,
    )


def in_rounds(rows: list[BenderRequest]) -> list[BenderRequest]:
    """The first of each member, then the second of each: nobody's many wishes keep others' out. By need date within."""
    seen: Counter[int] = Counter()
    placed = []
    for row in rows:
        placed.append((seen[row.member_id], row))
        seen[row.member_id] += 1
    return [row for _, row in sorted(placed, key=lambda one: one[0])]


def bound_words(bound: Bound | None) -> str:
    """How far the first rule is proven, where the effort ran out on it."""
    if bound is None:
        return ""
    refused = said_count(bound.members, "member")
    return gettext(
        "%(refused)s with %(level)s or fewer would be refused something; proven is only that it "
        "cannot be fewer than %(proven)s."
    ) % {"refused": refused, "level": said(level_words(bound.level)), "proven": bound.proven}


def member_bars(proposed: Proposed) -> SafeString | str:
    """Days per share of each member that asks, and what the proposal adds."""
    rows = proposed.members
    if not rows:
        return ""
    told = "; ".join(
        gettext("%(member)s: %(before)s, with this %(after)s")
        % {"member": row.member, "before": row.before, "after": row.after}
        for row in rows
    )
    drawn = [
        Bar(row.member.name, float(row.days.before), float(row.days.after - row.days.before), row.after) for row in rows
    ]
    return bars(drawn, gettext("Days a share of each member that asks"), f"{told}.")


def _standing(member: Member, had: Had) -> Standing:
    return Standing(member.name, member.share, had.days, had.last_season, had.open_days, had.until)
