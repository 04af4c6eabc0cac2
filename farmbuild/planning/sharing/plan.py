"""Who gets which bender when several ask: an exact allocation, with the reason for each request in words.

Members are compared by days per share: days that a member had a bender since the season began, with what is booked to
come, and the days of the season before at their weight, divided by its shares. All requests of a member count as one.

What is sought, each only among what is best for all before it, so that the answer is one and the same every time:

1. Least regret first. A member that is refused something regrets it the more, the fewer days per share it is left
   with. As few as can be are refused anything who are left with the fewest days per share; among the ways to do that,
   as few as can be of those with the next fewest, and so on. What could not be met if nobody else asked is no refusal.
2. Between equals, in turn: the request that is needed back first, then that of the member who had a bender least
   lately (never comes first), then the one that was asked first. The first of the turn is met if it can be, then the
   second, and so on.
3. Early: in the same turn, each has its first day as early as can be, then the bender that stands first in its list.

How many requests are met is no aim: it would favour whoever asks for little and often, and whoever makes two of one
wish. Days count alike however they are asked for. ``Rules`` says what a cooperative may change of this.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from farmbuild.planning.sharing.inputs import Request, Rules, Standing, Taken, in_turn
from farmbuild.planning.sharing.levels import claims_of
from farmbuild.planning.sharing.search import Bound, Place, Search
from farmbuild.planning.sharing.words import SharingFacts, given_words, refused_words

__all__ = [
    "Bound",
    "Given",
    "MemberDays",
    "NotGiven",
    "Proposal",
    "Request",
    "Rules",
    "Standing",
    "Taken",
    "in_turn",
    "places",
    "share",
]


@dataclass(frozen=True)
class Given:
    request: Request
    bender: str
    first: date
    last: date
    reason: str


@dataclass(frozen=True)
class NotGiven:
    """``bender`` and ``first``: where and when the days could be had at the earliest, too late for the request."""

    request: Request
    reason: str
    bender: str | None = None
    first: date | None = None


@dataclass(frozen=True)
class MemberDays:
    """Of a member that asks. ``given`` and ``asked``: days; ``before`` and ``after``: days per share."""

    member: str
    asked: int
    given: int
    before: Fraction
    after: Fraction


@dataclass(frozen=True)
class Proposal:
    """Both in turn. ``exact``: proven to be what is sought; else the solver ran out of its effort on the way, and
    ``bound`` says how far the first rule is proven, where it was that."""

    given: tuple[Given, ...]
    not_given: tuple[NotGiven, ...]
    exact: bool = True
    bound: Bound | None = None
    members: tuple[MemberDays, ...] = ()


_Spans = Mapping[str, Sequence[Taken]]


def places(request: Request, taken: _Spans, today: date) -> Iterator[Place]:
    """First day and bender of every way to meet it, in the order of rule 3."""
    day = max(request.earliest, today)
    while day + timedelta(days=request.days - 1) <= request.need_by:
        for bender in request.benders:
            if _free(taken.get(bender, ()), day, day + timedelta(days=request.days - 1)):
                yield day, bender
        day += timedelta(days=1)


def share(
    requests: Sequence[Request],
    benders: Mapping[str, str],
    taken: Sequence[Taken],
    today: date,
    members: Mapping[str, Standing],
    rules: Rules | None = None,
) -> Proposal:
    """``benders``: name by ref, of all that are lent; ``members``: of everybody who asks.

    Exact and the same every time; see the head of this file for what is sought.
    """
    rules = rules or Rules()
    order = in_turn(requests, members)
    spans = {bender: [row for row in taken if row.bender == bender] for bender in benders}
    choices = [[place for place in places(row, spans, today) if place[1] in benders] for row in order]
    claims = claims_of(order, members, rules, today)
    room = _room(order, members, rules)
    search = Search(order, _within(order, choices, room), claims, room)
    chosen = search.best()
    booked = {bender: list(rows) for bender, rows in spans.items()}
    for row, place in zip(order, chosen, strict=True):
        if place:
            name = members[row.member].name
            booked[place[1]].append(Taken(place[1], place[0], _last(row, place[0]), name))
    facts = SharingFacts(
        order=order,
        benders=benders,
        members=members,
        rules=rules,
        claims=claims,
        met=[place is not None for place in chosen],
        today=today,
        spans=booked,
        taken=spans,
    )
    given: list[Given] = []
    not_given: list[NotGiven] = []
    for at, (row, place) in enumerate(zip(order, chosen, strict=True)):
        if place:
            words = given_words(facts, at, place[0], place[1])
            given.append(Given(row, place[1], place[0], _last(row, place[0]), words))
        else:
            later = _later(row, booked, today)
            first, bender = later or (None, None)
            words = refused_words(facts, at, later, alone=bool(choices[at]))
            not_given.append(NotGiven(row, words, bender, first))
    return Proposal(tuple(given), tuple(not_given), search.exact, search.bound, _members(facts))


def _room(order: Sequence[Request], members: Mapping[str, Standing], rules: Rules) -> dict[str, int]:
    if rules.most_days_open is None:
        return {}
    return {row.member: max(0, rules.most_days_open - members[row.member].open_days) for row in order}


def _within(
    order: Sequence[Request], choices: Sequence[Sequence[Place]], room: Mapping[str, int]
) -> list[Sequence[Place]]:
    """No way for a request that is for more days than its member may have."""
    return [
        ways if row.days <= room.get(row.member, row.days) else () for row, ways in zip(order, choices, strict=True)
    ]


def _members(facts: SharingFacts) -> tuple[MemberDays, ...]:
    """By their first request in turn; need dates are left out of their days."""
    found = []
    for claim in claims_of(facts.order, facts.members, Rules(facts.rules.last_season_percent), facts.today):
        given = sum(facts.order[row].days for row in claim.rows if facts.met[row])
        asked = sum(facts.order[row].days for row in claim.rows)
        found.append(MemberDays(claim.member, asked, given, claim.before, claim.level(given)))
    return tuple(found)


def _last(request: Request, first: date) -> date:
    return first + timedelta(days=request.days - 1)


def _free(rows: Sequence[Taken], first: date, last: date) -> bool:
    return all(row.last < first or row.first > last for row in rows)


def _later(request: Request, booked: _Spans, today: date) -> Place | None:
    """The earliest it could be had with everything else as proposed, whenever it is needed back."""
    start = max(request.earliest, today)
    found: list[tuple[date, int, str]] = []
    for at, bender in enumerate(request.benders):
        if bender not in booked:
            continue
        starts = [start, *(row.last + timedelta(days=1) for row in booked[bender] if row.last >= start)]
        free = [day for day in starts if _free(booked[bender], day, _last(request, day))]
        found.append((min(free), at, bender))
    return min(found)[::2] if found else None
