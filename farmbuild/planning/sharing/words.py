"""Why a request for a bender gets those days, or none, in plain words with names and days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from farmbuild.measure import count_noun, format_count, format_day, format_decimal, join_words
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.sharing.inputs import Request, Rules, Standing, Taken
from farmbuild.planning.sharing.levels import Claim

_NAMED = 3
#: What is counted here, one and many.
NOUNS = (_("day"), _("days"), _("share"), _("shares"))


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
    if first == last:
        return sentence("on %(day)s", day=format_day(first))
    return sentence("from %(first)s to %(last)s", first=format_day(first), last=format_day(last))


def given_words(facts: SharingFacts, at: int, first: date, bender: str) -> str:
    request = facts.order[at]
    start = max(request.earliest, facts.today)
    parts: list[str] = []
    if first == request.earliest:
        parts.append(sentence("It starts on the first day asked for, %(day)s.", day=format_day(first)))
    elif first == start:
        parts.append(
            sentence("It starts today, %(day)s: the first day asked for has passed.", day=format_day(first)),
        )
    else:
        last = first + timedelta(days=request.days - 1)
        own = next(row for row in facts.spans[bender] if row.first == first)
        parts.append(
            sentence(
                "It starts on %(day)s, the first day left for %(days)s in a row.",
                day=format_day(first),
                days=count_noun(request.days, "day"),
            )
        )
        if held := _held(facts, request, start, last, own=own):
            parts.append(sentence("Before then, %(held)s.", held=held))
    ahead = [name for name in request.benders[: request.benders.index(bender)] if name in facts.benders]
    if ahead and first == start:
        held = _held(facts, request, first, first + timedelta(days=request.days - 1), ahead)
        if held:
            parts.append(sentence("%(bender)s, because %(held)s.", bender=facts.benders[bender], held=held))
    rivals = [row for row, other in enumerate(facts.order) if _rivals(request, other)]
    behind = [row for row in rivals if not facts.met[row] and _stands_before(facts, at, row)]
    if behind:
        parts.append(_before_words(facts, at, min(behind, key=facts.level)))
    elif rivals:
        parts.append(joined("", (had_words(facts.members[request.member], facts.rules), ".")))
    else:
        parts.append(sentence("Nobody else asks for it in these days."))
    return joined(" ", parts)


def refused_words(facts: SharingFacts, at: int, later: tuple[date, str] | None, alone: bool) -> str:
    """``later``: where it could be had, too late. ``alone``: it could be met if nobody else asked."""
    request = facts.order[at]
    start = max(request.earliest, facts.today)
    if later is None:
        return sentence("No bender that is lent fits what is asked for.")
    room = (request.need_by - start).days + 1
    need_by = format_day(request.need_by)
    if room < 1:
        why: str = sentence("The day it is needed back by, %(day)s, has passed.", day=need_by)
    elif room < request.days:
        why = _too_short(start, request, room)
    elif not alone:
        why = _none_left(request, _held(replace(facts, spans=facts.taken), request, start, request.need_by))
    elif too_many := _too_many(facts, at):
        return too_many
    else:
        none_left = _none_left(request, _held(facts, request, start, request.need_by))
        why = joined(" ", (none_left, _refused_for(facts, at)))
    first, bender = later
    earliest = sentence(
        "The earliest it could be had: %(bender)s from %(day)s.", bender=facts.benders[bender], day=format_day(first)
    )
    return joined(" ", (why, earliest))


def _too_short(start: date, request: Request, room: int) -> str:
    days = count_noun(request.days, "day")
    if room == 1:
        return sentence(
            "On %(day)s there is 1 day, and %(days)s in a row are asked for.", day=format_day(start), days=days
        )
    return sentence(
        "From %(first)s to %(last)s there are %(room)s days, and %(days)s in a row are asked for.",
        first=format_day(start),
        last=format_day(request.need_by),
        room=room,
        days=days,
    )


def _none_left(request: Request, held: str) -> str:
    return sentence(
        "No %(days)s in a row are left by %(day)s: %(held)s.",
        days=count_noun(request.days, "day"),
        day=format_day(request.need_by),
        held=held,
    )


def had_words(standing: Standing, rules: Rules, *, it: bool = False, briefly: bool = False) -> str:
    """Alder Patch had 4 days this season and 10 the season before, for 2 shares. ``it``: it was named already;
    ``briefly``: days are spoken of."""
    given: dict[str, object] = {"member": standing.name, "shares": count_noun(standing.share, "share")}
    given["days"] = format_count(standing.days) if briefly else count_noun(standing.days, "day")
    if not _last_counts(standing, rules):
        if briefly:
            return sentence("%(member)s had %(days)s, for %(shares)s", **given)
        if it:
            return sentence("it had %(days)s this season, for %(shares)s", **given)
        return sentence("%(member)s had %(days)s this season, for %(shares)s", **given)
    given["before"] = format_count(standing.last_season)
    if briefly:
        return sentence("%(member)s had %(days)s and %(before)s the season before, for %(shares)s", **given)
    if it:
        return sentence("it had %(days)s this season and %(before)s the season before, for %(shares)s", **given)
    return sentence("%(member)s had %(days)s this season and %(before)s the season before, for %(shares)s", **given)


def level_words(level: Fraction) -> str:
    """3.5 days a share; rounded to a tenth."""
    tenths = Decimal(round(level * 10)) / 10
    shown = format_decimal(tenths, 0 if tenths == int(tenths) else 1)
    if tenths == 1:
        return sentence("%(days)s day a share", days=shown)
    return sentence("%(days)s days a share", days=shown)


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
    booked = {"member": standing.name, "booked": count_noun(standing.open_days, "day")}
    has = (
        sentence(
            "%(member)s has %(booked)s booked or out and is given %(given)s here.",
            given=count_noun(given, "day"),
            **booked,
        )
        if given
        else sentence("%(member)s has %(booked)s booked or out.", **booked)
    )
    would = sentence(
        "With these %(days)s it would have more than %(most)s, the most that the rules of sharing allow at a time.",
        days=count_noun(request.days, "day"),
        most=count_noun(most, "day"),
    )
    return joined(" ", (has, would))


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
        had = joined("", (had_words(a, facts.rules), "; ", had_words(b, facts.rules, briefly=True), "."))
        return joined(" ", (had, _by_turn(facts, first, second)))
    had = joined("; ", (had_words(a, facts.rules, it=True), had_words(b, facts.rules, briefly=True)))
    before = sentence("%(first)s goes before %(second)s: %(had)s.", first=a.name, second=b.name, had=had)
    if _says_it(a, mine, facts.rules) and _says_it(b, theirs, facts.rules):
        return before
    left = {"first": a.name, "mine": level_words(mine), "second": b.name, "theirs": level_words(theirs)}
    without = (
        sentence(
            "Without these days %(first)s would be left with %(mine)s, %(second)s has %(theirs)s, the dates of need"
            " counted in.",
            **left,
        )
        if facts.rules.days_a_week_sooner
        else sentence("Without these days %(first)s would be left with %(mine)s, %(second)s has %(theirs)s.", **left)
    )
    return joined(" ", (before, without))


def _says_it(standing: Standing, level: Fraction, rules: Rules) -> bool:
    """Whether the days of this season are all that a level comes of."""
    return level == standing.days and not _last_counts(standing, rules)


def _refused_for(facts: SharingFacts, at: int) -> str:
    request = facts.order[at]
    rivals = [row for row, other in enumerate(facts.order) if facts.met[row] and _rivals(request, other)]
    before = [row for row in rivals if _stands_before(facts, row, at)]
    if before:
        return _before_words(facts, min(before, key=lambda row: (facts.level(row, without=True), row)), at)
    had = had_words(facts.members[request.member], facts.rules)
    others = sentence("To meet this, others would be refused who are left with as few days a share, or fewer.")
    return joined("", (had, ". ", others))


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
            who: list[str] = [joined(" ", (row.who, span(row.first, row.last))) for row in rows[:_NAMED]]
            more = len(rows) - _NAMED
            if more > 0:
                who.append(sentence("%(count)s more", count=more))
            told_of.append(
                sentence("%(bender)s is taken by %(who)s", bender=facts.benders[bender], who=join_words(who))
            )
    return joined("; ", told_of) if told_of else ""


def _when(row: Taken) -> tuple[date, date]:
    return row.first, row.last


def _by_turn(facts: SharingFacts, one: Request, other: Request) -> str:
    """Why ``one`` stands before ``other`` where days are equal."""
    first, second = facts.name(one), facts.name(other)
    sooner = one.need_by != other.need_by
    back = {"day": format_day(one.need_by), "other": format_day(other.need_by)}
    if one.member == other.member:
        if sooner:
            return sentence("%(member)s needs this back by %(day)s, not by %(other)s.", member=first, **back)
        return sentence("%(member)s asked for this first.", member=first)
    names = {"first": first, "second": second}
    both = sentence("With equal days a share %(first)s goes before %(second)s:", **names)
    if sooner:
        return joined(" ", (both, sentence("needs this back by %(day)s, not by %(other)s.", **back)))
    mine, theirs = facts.members[one.member].until, facts.members[other.member].until
    if theirs is None or mine == theirs:
        return joined(" ", (both, sentence("it asked first.")))
    until = {"other": second, "until": format_day(theirs)}
    if mine is None:
        return joined(" ", (both, sentence("it never had one, while %(other)s had one until %(until)s.", **until)))
    last = sentence(
        "it had one last on %(day)s, while %(other)s had one until %(until)s.", day=format_day(mine), **until
    )
    return joined(" ", (both, last))
