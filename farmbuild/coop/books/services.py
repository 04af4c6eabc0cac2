"""Writes of members' accounts: posted once, taken back by the opposite, never edited."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from farmbuild.coop.models import MemberEntry
from farmbuild.crew.models import Member
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User

BACK = gettext_lazy("This is taken back already.")
Kind = MemberEntry.Kind


@dataclass(frozen=True)
class NewEntry:
    """``amount`` in whole coins: above zero the member owes it. ``source``: see MemberEntry."""

    member: Member
    day: date
    kind: Kind
    what: str
    amount: Decimal
    source: str = ""


def post_entries(*, organisation: Organisation, user: User | None, entries: Sequence[NewEntry]) -> list[MemberEntry]:
    """Within the caller's transaction, which its own act opened; entries of nothing are left out.

    Raises ValidationError where a source was posted already and stands.
    """
    wanted = [entry for entry in entries if entry.amount]
    lock_currency(organisation=organisation)
    kept = MemberEntry.objects.of(organisation).net()
    sources = {(entry.member.pk, entry.kind, entry.source) for entry in wanted if entry.source}
    standing = kept.filter(source__in={source for *_, source in sources}).values_list("member", "kind", "source")
    if sources & {*standing}:
        raise ValidationError(gettext("This stands in the members' accounts already. Look at the page again."))
    rows = [
        MemberEntry(
            organisation=organisation,
            member=entry.member,
            day=entry.day,
            kind=entry.kind,
            what=entry.what[:200],
            amount=entry.amount,
            source=entry.source,
            by=user,
        )
        for entry in wanted
    ]
    return MemberEntry.objects.bulk_create(rows)


def take_entries_back(
    *, organisation: Organisation, user: User | None, entries: Iterable[MemberEntry], reason: str
) -> list[MemberEntry]:
    """Each by its opposite, of its own day; within the caller's transaction. Raises ValidationError."""
    lock_currency(organisation=organisation)
    wanted = {entry.pk for entry in entries}
    rows = list(MemberEntry.objects.of(organisation).net().filter(pk__in=wanted).order_by("pk"))
    if len(rows) < len(wanted):
        raise ValidationError(BACK)
    if not reason.strip():
        raise ValidationError({"reason": gettext("Say why in a few words, for example: it was another member's.")})
    return MemberEntry.objects.bulk_create(
        MemberEntry(
            organisation=organisation,
            member_id=row.member_id,
            day=row.day,
            kind=row.kind,
            what=row.what,
            amount=-row.amount,
            source=row.source,
            by=user,
            reverses=row,
            reason=reason.strip()[:200],
        )
        for row in rows
    )
