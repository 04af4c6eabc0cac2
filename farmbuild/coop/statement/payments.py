"""Writes of what members paid, and of what was paid to them: recorded once, taken back whole."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.common.speaking import kept_words
from farmbuild.coop.books.services import NewEntry, post_entries, take_entries_back
from farmbuild.coop.charges.services import check_coins
from farmbuild.coop.models import MemberEntry, MemberPayment
from farmbuild.crew.models import Member
from farmbuild.crew.people.services import check_owner
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User

Kind = MemberEntry.Kind


@needs(Act.PLAN)
@transaction.atomic
def record_payment(
    *,
    organisation: Organisation,
    user: User,
    member: Member,
    day: date,
    amount: Decimal,
    how: str,
    note: str = "",
    paid_out: bool = False,
) -> MemberPayment:
    """``amount`` above 0; ``paid_out``: to the member, else by it. Raises ValidationError by field."""
    check_owner(organisation, {"member": member})
    lock_currency(organisation=organisation)
    if day > today_of(organisation=organisation):
        raise ValidationError({"day": gettext("It is recorded once it is paid. Type today or an earlier day.")})
    check_coins(amount, organisation.currency)
    note = " ".join(note.split())
    payment = MemberPayment(
        organisation=organisation, member=member, paid_out=paid_out, amount=amount, how=how, note=note
    )
    said = f"{'Paid to the member' if paid_out else 'Paid'}, {kept_words(payment.get_how_display()).lower()}"
    new = NewEntry(
        member=member,
        day=day,
        kind=Kind.PAID,
        what=f"{said}: {note}" if note else said,
        amount=amount if paid_out else -amount,
    )
    [payment.entry] = post_entries(organisation=organisation, user=user, entries=[new])
    payment.full_clean(exclude=["organisation"], validate_unique=False, validate_constraints=False)
    payment.save(force_insert=True)
    return payment


@needs(Act.PLAN)
@transaction.atomic
def take_back_payment(*, organisation: Organisation, user: User, entry: MemberEntry, reason: str) -> MemberEntry:
    """Raises ValidationError by field."""
    if entry.kind != Kind.PAID:
        raise ValidationError(gettext("This is taken back where it was made."))
    [back] = take_entries_back(organisation=organisation, user=user, entries=[entry], reason=reason)
    return back
