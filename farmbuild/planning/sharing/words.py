"""Why a request for a bender gets those days, or none, in plain words with names and days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from farmbuild.measure import count_noun, format_day, join_words
from farmbuild.planning.sharing.inputs import Request, Taken, Turn

_NAMED = 3


@dataclass(frozen=True)
class SharingFacts:
    """``order``: all requests in turn. ``spans``: by bender, what is taken and what is proposed;
    ``taken``: the former alone."""

    order: Sequence[Request]
    benders: Mapping[str, str]
    turns: Mapping[str, Turn]
    today: date
    spans: Mapping[str, Sequence[Taken]]
    taken: Mapping[str, Sequence[Taken]]


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
    behind = [other for other in facts.order[at + 1 :] if _rivals(request, other)]
    if behind:
        parts.append(f"{_first_of(facts, request, behind[0])}.")
    elif not any(_rivals(request, other) for other in facts.order[:at]):
        parts.append("Nobody else asks for it in these days.")
    return " ".join(parts)


def refused_words(
    facts: SharingFacts, at: int, later: tuple[date, str] | None, met: Sequence[bool], alone: bool
) -> str:
    """``met``: of each request in turn, whether it is. ``later``: where it could be had, too late. ``alone``: it could
    be met if nobody else asked."""
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
    else:
        held = _held(facts, request, start, request.need_by)
        why = f"No {count_noun(request.days, 'day')} in a row are left by {format_day(request.need_by)}: {held}."
        rivals = [(row, other) for row, other in enumerate(facts.order) if met[row] and _rivals(request, other)]
        before = [other for row, other in rivals if row < at]
        if before:
            why += f" {_first_of(facts, before[-1], request)}."
        elif rivals:
            why += " Giving it these days would leave more requests unmet."
    first, bender = later
    return f"{why} The earliest it could be had: {facts.benders[bender]} from {format_day(first)}."


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


def _first_of(facts: SharingFacts, one: Request, other: Request) -> str:
    """Why ``one`` stands before ``other``."""
    if one.need_by != other.need_by:
        return (
            f"{one.member} goes before {other.member}: needed back by {format_day(one.need_by)},"
            f" not by {format_day(other.need_by)}"
        )
    if one.member == other.member:
        return f"{one.member} asked for this first"
    had, waited = facts.turns.get(one.member, Turn()), facts.turns.get(other.member, Turn())
    both = (
        f"{one.member} goes before {other.member}: both are needed back by {format_day(one.need_by)}, and {one.member}"
    )
    if had.last != waited.last:
        until = f"{other.member} had one until {format_day(waited.last)}" if waited.last else ""
        mine = f"had one last on {format_day(had.last)}" if had.last else "never had one"
        return f"{both} {mine}, while {until}"
    if had.days != waited.days:
        return f"{both} had one for {count_noun(had.days, 'day')}, {other.member} for {count_noun(waited.days, 'day')}"
    return f"{both} asked first"
