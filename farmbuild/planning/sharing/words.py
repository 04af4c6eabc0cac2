"""Why a request for a bender gets those days, or none, in plain words with names and days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from farmbuild.measure import count_noun, format_count, format_day, format_decimal, join_words
from farmbuild.planning.sharing.inputs import Request, Rules, Standing, Taken
from farmbuild.planning.sharing.levels import Claim

_NAMED = 3


@dataclass(frozen=True)
class SharingFacts:
    """``order``: all requests in turn; ``met``: of each, whether it is. ``spans``: by bender, what is taken and what is
    proposed; ``taken``: the former alone."""

    order: Sequence[Request]
    benders: Mapping[str, str]
    members: Mapping[str, Standing]
    rules: Rules
    claims: Sequence[Claim]
    met: Sequence[bool]
    today: date
    spans: Mapping[str, Sequence[Taken]]
    taken: Mapping[str, Sequence[Taken]]

    def name(self, request: Request) -> str:
        return self.members[request.member].name

    def claim(self, at: int) -> Claim:
        return next(claim for claim in self.claims if at in claim.rows)

    def level(self, at: int, *, without: bool = False) -> Fraction:
        """Days per share of the claim of a request as proposed; or as they would be without its days."""
        claim = self.claim(at)
        days = sum(self.order[row].days for row in claim.rows if self.met[row] and not (without and row == at))
        return claim.level(days)


def span(first: date, last: date) -> str:
    return f"on {format_day(first)}" if first == last else f"from {format_day(first)} to {format_day(last)}"


def given_words(facts: SharingFacts, at: int, first: date, bender: str) -> str:
    request = facts.order[at]
    start = max(request.earliest, facts.today)
    parts = []
    if first == request.earliest:
        parts.append(f"It starts on the first day asked for, {format_day(first)}.")
    elif first == start:
        parts.append(f"It starts today, {format_day(first)}: the first day asked for has passed.")
    else:
        last = first + timedelta(days=request.days - 1)
        own = next(row for row in facts.spans[bender] if row.first == first)
        held = _held(facts, request, start, last, own=own)
        why = f" Before then, {held}." if held else ""
        parts.append(
            f"It starts on {format_day(first)}, the first day left for {count_noun(request.days, 'day')} in a row.{why}"
        )
    ahead = [name for name in request.benders[: request.benders.index(bender)] if name in facts.benders]
    if ahead and first == start:
        held = _held(facts, request, first, first + timedelta(days=request.days - 1), ahead)
        if held:
            parts.append(f"{facts.benders[bender]}, because {held}.")
    rivals = [row for row, other in enumerate(facts.order) if _rivals(request, other)]
    behind = [row for row in rivals if not facts.met[row] and _stands_before(facts, at, row)]
    if behind:
        parts.append(_before_words(facts, at, min(behind, key=facts.level)))
    elif rivals:
        parts.append(f"{had_words(facts.members[request.member], facts.rules)}.")
    else:
        parts.append("Nobody else asks for it in these days.")
    return " ".join(parts)


def refused_words(facts: SharingFacts, at: int, later: tuple[date, str] | None, alone: bool) -> str:
    """``later``: where it could be had, too late. ``alone``: it could be met if nobody else asked."""
    request = facts.order[at]
    start = max(request.earliest, facts.today)
    if later is None:
        return "No bender that is lent fits what is asked for."
    room = (request.need_by - start).days + 1
    if room < 1:
        why = f"The day it is needed back by, {format_day(request.need_by)}, has passed."
    elif room < request.days:
        what = "is 1 day" if room == 1 else f"are {room} days"
        asked = f"{count_noun(request.days, 'day')} in a row are asked for"
        why = f"{span(start, request.need_by).capitalize()} there {what}, and {asked}."
    elif not alone:
        held = _held(replace(facts, spans=facts.taken), request, start, request.need_by)
        why = f"No {count_noun(request.days, 'day')} in a row are left by {format_day(request.need_by)}: {held}."
    elif too_many := _too_many(facts, at):
        return too_many
    else:
        held = _held(facts, request, start, request.need_by)
        why = f"No {count_noun(request.days, 'day')} in a row are left by {format_day(request.need_by)}: {held}."
        why += f" {_refused_for(facts, at)}"
    first, bender = later
    return f"{why} The earliest it could be had: {facts.benders[bender]} from {format_day(first)}."


def had_words(standing: Standing, rules: Rules, who: str = "", *, briefly: bool = False) -> str:
    """Alder Patch had 4 days this season and 10 the season before, for 2 shares. ``briefly``: days are spoken of."""
    days = format_count(standing.days) if briefly else f"{count_noun(standing.days, 'day')} this season"
    before = f" and {format_count(standing.last_season)} the season before" if _last_counts(standing, rules) else ""
    return f"{who or standing.name} had {days}{before}, for {count_noun(standing.share, 'share')}"


def level_words(level: Fraction) -> str:
    """3.5 days a share; rounded to a tenth."""
    tenths = Decimal(round(level * 10)) / 10
    shown = format_decimal(tenths, 0 if tenths == int(tenths) else 1)
    return f"{shown} {'day' if tenths == 1 else 'days'} a share"


def _last_counts(standing: Standing, rules: Rules) -> bool:
    return bool(standing.last_season and rules.last_season_percent)


def _too_many(facts: SharingFacts, at: int) -> str:
    """Where the days that a member may have open are what keeps a request back."""
    request, most = facts.order[at], facts.rules.most_days_open
    standing = facts.members[request.member]
    given = sum(
        row.days for row, met in zip(facts.order, facts.met, strict=True) if met and row.member == request.member
    )
    if most is None or standing.open_days + given + request.days <= most:
        return ""
    with_given = f" and is given {count_noun(given, 'day')} here" if given else ""
    return (
        f"{standing.name} has {count_noun(standing.open_days, 'day')} booked or out{with_given}. With these"
        f" {count_noun(request.days, 'day')} it would have more than {count_noun(most, 'day')}, the most that the rules"
        " of sharing allow at a time."
    )


def _stands_before(facts: SharingFacts, one: int, other: int) -> bool:
    """Whether the given ``one`` goes before ``other``, which is not: without its days it would be left with fewer, or
    with as many and be first in turn."""
    mine, theirs = facts.level(one, without=True), facts.level(other)
    return mine < theirs or (mine == theirs and one < other)


def _before_words(facts: SharingFacts, one: int, other: int) -> str:
    """Why the given ``one`` goes before ``other``, with the figures of both."""
    first, second = facts.order[one], facts.order[other]
    if first.member == second.member:
        return _by_turn(facts, first, second)
    a, b = facts.members[first.member], facts.members[second.member]
    mine, theirs = facts.level(one, without=True), facts.level(other)
    if mine == theirs:
        had = f"{had_words(a, facts.rules)}; {had_words(b, facts.rules, briefly=True)}."
        return f"{had} {_by_turn(facts, first, second)}"
    had = f"{had_words(a, facts.rules, 'it')}; {had_words(b, facts.rules, briefly=True)}."
    said = f"{a.name} goes before {b.name}: {had}"
    if _says_it(a, mine, facts.rules) and _says_it(b, theirs, facts.rules):
        return said
    return (
        f"{said} Without these days {a.name} would be left with {level_words(mine)},"
        f" {b.name} has {level_words(theirs)}{_with_dates(facts)}."
    )


def _says_it(standing: Standing, level: Fraction, rules: Rules) -> bool:
    """Whether the days of this season are all that a level comes of."""
    return level == standing.days and not _last_counts(standing, rules)


def _with_dates(facts: SharingFacts) -> str:
    return ", the dates of need counted in" if facts.rules.days_a_week_sooner else ""


def _refused_for(facts: SharingFacts, at: int) -> str:
    request = facts.order[at]
    rivals = [row for row, other in enumerate(facts.order) if facts.met[row] and _rivals(request, other)]
    before = [row for row in rivals if _stands_before(facts, row, at)]
    if before:
        return _before_words(facts, min(before, key=lambda row: (facts.level(row, without=True), row)), at)
    had = had_words(facts.members[request.member], facts.rules)
    return f"{had}. To meet this, others would be refused who are left with as few days a share, or fewer."


def _rivals(one: Request, other: Request) -> bool:
    """They could want one bender on one day."""
    if one.ref == other.ref or not set(one.benders) & set(other.benders):
        return False
    return one.earliest <= other.need_by and other.earliest <= one.need_by


def _held(
    facts: SharingFacts,
    request: Request,
    first: date,
    last: date,
    benders: Sequence[str] | None = None,
    own: Taken | None = None,
) -> str:
    """Who has the benders that fit, in those days, but for ``own``."""
    told_of = []
    for bender in request.benders if benders is None else benders:
        rows = sorted(
            (row for row in facts.spans.get(bender, ()) if row.first <= last and row.last >= first), key=_when
        )
        rows = [row for row in rows if row is not own]
        if rows:
            who = [f"{row.who} {span(row.first, row.last)}" for row in rows[:_NAMED]]
            more = len(rows) - _NAMED
            if more > 0:
                who.append(f"{more} more")
            told_of.append(f"{facts.benders[bender]} is taken by {join_words(who)}")
    return "; ".join(told_of)


def _when(row: Taken) -> tuple[date, date]:
    return row.first, row.last


def _by_turn(facts: SharingFacts, one: Request, other: Request) -> str:
    """Why ``one`` stands before ``other`` where days are equal."""
    if one.member == other.member:
        return f"{facts.name(one)} {_needs(one, other) or 'asked for this first'}."
    both = f"With equal days a share {facts.name(one)} goes before {facts.name(other)}:"
    if needs := _needs(one, other):
        return f"{both} {needs}."
    mine, theirs = facts.members[one.member].until, facts.members[other.member].until
    if mine != theirs:
        until = f"{facts.name(other)} had one until {format_day(theirs)}" if theirs else ""
        return f"{both} it {f'had one last on {format_day(mine)}' if mine else 'never had one'}, while {until}."
    return f"{both} it asked first."


def _needs(one: Request, other: Request) -> str:
    if one.need_by == other.need_by:
        return ""
    return f"needs this back by {format_day(one.need_by)}, not by {format_day(other.need_by)}"
