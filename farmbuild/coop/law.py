"""What always holds: what members owe is, kind by kind and to the coin, what it was posted for.

The left side are the entries of members' accounts; the right side is worked out again from the rows that they were
posted for: prices and days frozen with a booking's charge, damage asked for, payments, and what rooms beside say.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from hashlib import sha256

from farmbuild.coop.charges.bridge import lines_amount
from farmbuild.coop.charges.proposals import KINDS, stored_lines
from farmbuild.coop.common import services as common
from farmbuild.coop.joint import books as joint
from farmbuild.coop.models import BookingCharge, Damage, MemberEntry, MemberPayment, SentStatement
from farmbuild.coop.pipe import services as pipe
from farmbuild.coop.statement.selectors import balances_of, statements_of
from farmbuild.measure import format_money, use_amounts
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

Kind = MemberEntry.Kind
#: By member key.
Owed = dict[int, Decimal]
#: What members owe of a kind, worked out again from the rows of its room.
AGAIN: dict[Kind, Callable[..., Mapping[int, Decimal]]] = {
    Kind.ORDER: joint.owed_again,
    Kind.PIPE: pipe.owed_again,
    Kind.STOCK: common.owed_again,
}


def entries_by_kind(*, organisation: Organisation) -> dict[str, Owed]:
    """What stands in the accounts; what was taken back and what took it back are both in it."""
    found: dict[str, Owed] = defaultdict(lambda: defaultdict(Decimal))
    rows = MemberEntry.objects.of(organisation).values_list("kind", "member", "amount")
    for kind, member, amount in rows.iterator():
        found[kind][member] += amount
    return found


def again_by_kind(*, organisation: Organisation) -> dict[str, Owed]:
    """The same from what the entries were posted for."""
    found: dict[str, Owed] = defaultdict(lambda: defaultdict(Decimal))
    charges = BookingCharge.objects.of(organisation).filter(entry__reversed_by=None)
    for kind, member, lines in charges.values_list("entry__kind", "booking__member", "lines"):
        found[kind][member] += lines_amount(stored_lines(lines), organisation.currency)
    damages = Damage.objects.of(organisation).exclude(state=Damage.State.WITHDRAWN)
    for member, amount in damages.values_list("booking__member", "amount"):
        found[Kind.DAMAGE][member] += amount
    payments = MemberPayment.objects.of(organisation).filter(entry__reversed_by=None)
    for member, amount, paid_out in payments.values_list("member", "amount", "paid_out"):
        found[Kind.PAID][member] += amount if paid_out else -amount
    for kind, again in AGAIN.items():
        for member, amount in again(organisation=organisation).items():
            found[kind][member] += amount
    return found


def faults_of(*, organisation: Organisation) -> Iterator[str]:
    """Sentences: what differs. Kinds of rooms that do not say what they posted are not compared."""
    with use_amounts(True):
        yield from _kinds(organisation)
        yield from _balances(organisation)
        yield from _sent(organisation)


def _kinds(organisation: Organisation) -> Iterator[str]:
    entries, again = entries_by_kind(organisation=organisation), again_by_kind(organisation=organisation)
    for kind in (*KINDS, Kind.DAMAGE, Kind.PAID, *AGAIN):
        for member in sorted(entries[kind].keys() | again[kind].keys()):
            stands, worked_out = entries[kind].get(member, Decimal(0)), again[kind].get(member, Decimal(0))
            if stands != worked_out:
                words = [format_money(amount, organisation.currency) for amount in (stands, worked_out)]
                yield f"{Kind(kind).label} of member {member}: {words[0]} stands in the account, {words[1]} is right."
    if between := sum(entries[Kind.PIPE].values(), Decimal(0)):
        yield f"Pipe between members does not come to nothing: {format_money(between, organisation.currency)}."


def _balances(organisation: Organisation) -> Iterator[str]:
    today = today_of(organisation=organisation)
    whole = sum(entries_by_day(organisation, today), Decimal(0))
    closing = sum(
        (one.closing for one in statements_of(organisation=organisation, first=today, last=today)), Decimal(0)
    )
    owed = sum(balances_of(organisation=organisation, day=today).values(), Decimal(0))
    if not whole == closing == owed:
        words = [format_money(amount, organisation.currency) for amount in (closing, owed, whole)]
        yield f"Statements end with {words[0]} and balances with {words[1]}; all entries are {words[2]}."


def entries_by_day(organisation: Organisation, last: object) -> Iterator[Decimal]:
    """Amounts up to a day, one by one."""
    rows = MemberEntry.objects.of(organisation).filter(day__lte=last).values_list("amount", flat=True)
    yield from rows.iterator()


def _sent(organisation: Organisation) -> Iterator[str]:
    """Each statement as it went out: its files, its sum, and that it begins with what the one before ended with."""
    rows = SentStatement.objects.of(organisation).defer(None).order_by("member", "last")
    before: SentStatement | None = None
    for row in rows.iterator():
        entries = MemberEntry.objects.filter(member=row.member_id, day__lte=row.last, pk__lte=row.through)
        if sum(entries.values_list("amount", flat=True), Decimal(0)) != row.closing:
            yield f"{row.reference} ends with another sum than its entries."
        if before and before.member_id == row.member_id and before.closing != row.opening:
            yield f"{row.reference} begins with another balance than {before.reference} ended with."
        kept = ((row.pdf, row.sha256), (row.workbook, row.workbook_sha256))
        if any(sha256(bytes(data)).hexdigest() != digest for data, digest in kept):
            yield f"A file of {row.reference} is not the one that went out."
        before = row
