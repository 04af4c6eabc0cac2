"""Statements of members: what they owed before, what was posted since, and what they owe after."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import QuerySet, Sum

from farmbuild.coop.books.season import Seasons
from farmbuild.coop.models import MemberEntry, SentStatement
from farmbuild.coop.pipe.selectors import OwedPieces, pieces_owed_on
from farmbuild.crew.models import Member
from farmbuild.measure import round_money
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation

DAY = timedelta(days=1)
Kind = MemberEntry.Kind
#: Parts of a statement in their order, and the kinds of entries in each.
PARTS: Sequence[tuple[str, Sequence[str]]] = (
    (gettext_noop("Benders"), (Kind.DAYS, Kind.PULLS, Kind.LATE)),
    (gettext_noop("Damage"), (Kind.DAMAGE,)),
    (gettext_noop("Joint orders"), (Kind.ORDER,)),
    (gettext_noop("Pipe lent and given"), (Kind.PIPE,)),
    (gettext_noop("Common stock"), (Kind.STOCK,)),
    (gettext_noop("Other"), (Kind.OTHER,)),
    (gettext_noop("Paid"), (Kind.PAID,)),
)


@dataclass(frozen=True)
class Part:
    title: str
    entries: Sequence[MemberEntry]
    amount: Decimal


@dataclass(frozen=True)
class Statement:
    """Of one member. ``after``: the one that was sent before it, where this begins with what that ended with; then
    ``entries`` has what was posted since for earlier days too. ``through``: the key of the last entry that there was.
    """

    member: Member
    first: date
    last: date
    opening: Decimal
    entries: Sequence[MemberEntry]
    closing: Decimal
    through: int
    after: SentStatement | None = None
    #: What it owes others and is owed in kind at the end of ``last``; no sum of money has it.
    pieces: Sequence[OwedPieces] = ()

    @property
    def parts(self) -> list[Part]:
        """Those that have something, in their order."""
        found = []
        for title, kinds in PARTS:
            rows = [entry for entry in self.entries if entry.kind in kinds]
            if rows:
                found.append(Part(title, rows, sum((row.amount for row in rows), Decimal(0))))
        return found


def members_of(*, organisation: Organisation) -> QuerySet[Member]:
    """Also archived ones: what they owe stays owed."""
    return Member.objects.of(organisation).order_by("name", "pk")


def sent_of(*, organisation: Organisation) -> QuerySet[SentStatement]:
    """The latest first, without files."""
    return (
        SentStatement.objects.of(organisation).select_related("organisation", "member", "sent_by").order_by("-number")
    )


def sent_to(*, member: Member) -> QuerySet[SentStatement]:
    return sent_of(organisation=member.organisation).filter(member=member)


def file_of(*, statement: SentStatement, name: str) -> bytes:
    """``name``: pdf or workbook, read now."""
    return bytes(SentStatement.objects.filter(pk=statement.pk).values_list(name, flat=True).get())


def last_sent_of(*, member: Member) -> SentStatement | None:
    return SentStatement.objects.filter(member=member).order_by("-last").first()


def entries_of(*, organisation: Organisation) -> QuerySet[MemberEntry]:
    """With what was taken back and what took it back, by day."""
    rows = MemberEntry.objects.of(organisation).select_related("member", "reverses", "reversed_by", "by")
    return rows.order_by("day", "pk")


def balances_of(*, organisation: Organisation, day: date | None = None) -> dict[int, Decimal]:
    """By member key, what each owes (below 0: is owed) at the end of ``day``; members without entries are left out."""
    rows = MemberEntry.objects.of(organisation)
    if day is not None:
        rows = rows.filter(day__lte=day)
    sums = rows.order_by().values_list("member").annotate(sum=Sum("amount"))
    return {member: round_money(amount, organisation.currency) for member, amount in sums}


def balance_of(*, member: Member, day: date) -> Decimal:
    """What one owes at the end of ``day``."""
    found = MemberEntry.objects.filter(member=member, day__lte=day).aggregate(sum=Sum("amount"))["sum"]
    return round_money(found or Decimal(0), member.organisation.currency)


def has_entries(*, member: Member) -> bool:
    return MemberEntry.objects.filter(member=member).exists()


def season_of(*, organisation: Organisation, day: date) -> tuple[date, date]:
    """The first and last day of the season that ``day`` is in."""
    seasons = Seasons(organisation)
    return seasons.begun(day), seasons.ends(day)


def statement_of(*, member: Member, first: date, last: date) -> Statement:
    """Of any days. It begins with what was sent where that ended the day before ``first``."""
    [found] = statements_of(organisation=member.organisation, first=first, last=last, members=[member])
    return found


def statements_of(
    *, organisation: Organisation, first: date, last: date, members: Iterable[Member] | None = None
) -> list[Statement]:
    """Of all members that have an entry up to ``last`` or owe or are owed pieces then, by name; of ``members`` also
    without. In few queries."""
    wanted = {member.pk: member for member in members} if members is not None else None
    rows = entries_of(organisation=organisation).filter(day__lte=last)
    if wanted is not None:
        rows = rows.filter(member__in=wanted)
    by_member: dict[int, list[MemberEntry]] = defaultdict(list)
    for entry in rows:
        by_member[entry.member_id].append(entry)
    pieces = pieces_owed_on(organisation=organisation, day=last, members=wanted)
    ended = SentStatement.objects.of(organisation).filter(last=first - DAY)
    after = {row.member_id: row for row in ended.filter(member__in=wanted if wanted is not None else by_member)}
    if wanted is None:
        wanted = {row.pk: row for row in members_of(organisation=organisation).filter(pk__in={*by_member, *pieces})}
    through = MemberEntry.objects.of(organisation).order_by("-pk").values_list("pk", flat=True).first() or 0
    return [
        replace(
            _statement(member, first, last, by_member[pk], after.get(pk), through, organisation),
            pieces=pieces.get(pk, ()),
        )
        for pk, member in wanted.items()
    ]


def _statement(
    member: Member,
    first: date,
    last: date,
    entries: Sequence[MemberEntry],
    after: SentStatement | None,
    through: int,
    organisation: Organisation,
) -> Statement:
    def told(entry: MemberEntry) -> bool:
        """In what went out before it, or before its days."""
        if after is None:
            return entry.day < first
        return entry.day <= after.last and entry.pk <= after.through

    def coins(amount: Decimal) -> Decimal:
        return round_money(amount, organisation.currency)

    opening = coins(sum((entry.amount for entry in entries if told(entry)), Decimal(0)))
    new = [entry for entry in entries if not told(entry)]
    closing = coins(opening + sum((entry.amount for entry in new), Decimal(0)))
    return Statement(member, first, last, opening, new, closing, through, after)


def owed_both_ways(balances: Mapping[int, Decimal]) -> tuple[Decimal, Decimal]:
    """What members owe, and what they are owed, both above 0."""
    owe = sum((amount for amount in balances.values() if amount > 0), Decimal(0))
    owed = -sum((amount for amount in balances.values() if amount < 0), Decimal(0))
    return owe, owed


def unsent_from(*, member: Member, day: date) -> date:
    """From which day on the next statement of a member goes: after the last one, else with the season of its first
    entry, else of ``day``."""
    sent = last_sent_of(member=member)
    if sent:
        return sent.last + DAY
    earliest = MemberEntry.objects.filter(member=member).order_by("day").values_list("day", flat=True).first()
    return Seasons(member.organisation).begun(min(earliest or day, day))
