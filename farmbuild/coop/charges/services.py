"""Writes of charges: what was proposed is posted once, damage is asked for, disputed and answered."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from farmbuild.coop.books.services import NewEntry, post_entries, take_entries_back
from farmbuild.coop.charges.proposals import proposed_charges
from farmbuild.coop.members.seeing import check_acts_for
from farmbuild.coop.models import BookingCharge, Damage, MemberEntry
from farmbuild.crew.models import BenderBooking, Member
from farmbuild.measure import places
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User

CHANGED = gettext_lazy("Some of these were posted or changed since the page was loaded. Look at them again.")
Kind, State = MemberEntry.Kind, Damage.State


def check_coins(amount: Decimal, currency: str) -> Decimal:
    """Raises ValidationError at ``amount`` unless it is above zero and of whole coins."""
    if amount <= 0:
        raise ValidationError({"amount": gettext("Type an amount above 0.")})
    if amount != amount.quantize(Decimal(1).scaleb(-places(currency))):
        raise ValidationError(
            {"amount": gettext("%(currency)s has no coins as small as that.") % {"currency": currency}}
        )
    return amount


@needs(Act.BENDERS)
@transaction.atomic
def post_charges(*, organisation: Organisation, user: User, seen: Sequence[str]) -> int:
    """The proposed charges that the page showed; says how many.

    Raises ValidationError where one is proposed no more.
    """
    lock_currency(organisation=organisation)
    now = {one.token: one for one in proposed_charges(organisation=organisation)}
    if not seen or not now.keys() >= {*seen}:
        raise ValidationError(CHANGED)
    wanted = [now[token] for token in dict.fromkeys(seen)]
    new = [NewEntry(one.booking.member, one.day, one.kind, one.what, one.amount, source=one.source) for one in wanted]
    entries = post_entries(organisation=organisation, user=user, entries=new)
    BookingCharge.objects.bulk_create(
        BookingCharge(organisation=organisation, entry=entry, booking=one.booking, lines=one.stored)
        for entry, one in zip(entries, wanted, strict=True)
    )
    return len(entries)


@needs(Act.BENDERS)
@transaction.atomic
def charge_damage(
    *, organisation: Organisation, user: User, booking: BenderBooking, what: str, amount: Decimal
) -> Damage:
    """What a member is asked for damage at a bender that it brought back. Raises ValidationError by field."""
    lock_currency(organisation=organisation)
    current = BenderBooking.objects.of(organisation).select_related("bender", "member").get(pk=booking.pk)
    if current.member is None:
        raise ValidationError(gettext("This booking is your own work: nobody is asked for it."))
    if current.state != BenderBooking.State.BACK:
        raise ValidationError(gettext("Check the bender in first: damage is seen when it comes back."))
    what = " ".join(what.split())
    if not what:
        raise ValidationError({"what": gettext("Say what is damaged, for example: roller bent, needs a new one.")})
    check_coins(amount, organisation.currency)
    before = Damage.objects.filter(booking=current).count()
    new = NewEntry(
        member=current.member,
        day=today_of(organisation=organisation),
        kind=Kind.DAMAGE,
        what=f"{current.bender}: {what}",
        amount=amount,
        source=f"damage {current.pk}-{before + 1}",
    )
    [entry] = post_entries(organisation=organisation, user=user, entries=[new])
    damage = Damage(organisation=organisation, booking=current, entry=entry, what=what, amount=amount, made_by=user)
    damage.full_clean(exclude=["organisation"], validate_unique=False, validate_constraints=False)
    damage.save(force_insert=True)
    return damage


@transaction.atomic
def dispute_damage(*, member: Member, user: User, damage: Damage, why: str) -> Damage:
    """The member says why it does not owe this; what it owes stays until somebody answers.

    Raises ValidationError by field, PermissionDenied where ``user`` is nobody of it.
    """
    check_acts_for(member=member, user=user)
    return _dispute(Damage.objects.filter(booking__member=member), user, damage, why)


@needs(Act.BENDERS)
@transaction.atomic
def dispute_for_member(*, organisation: Organisation, user: User, damage: Damage, why: str) -> Damage:
    """As ``dispute_damage``, for a member who said it without signing in."""
    return _dispute(Damage.objects.of(organisation), user, damage, why)


def _dispute(rows: QuerySet[Damage], user: User, damage: Damage, why: str) -> Damage:
    current = rows.select_for_update(of=("self",)).get(pk=damage.pk)
    why = " ".join(why.split())
    if not why:
        raise ValidationError({"why": gettext("Say why in a few words, for example: it was bent when we fetched it.")})
    if current.state != State.ASKED:
        raise ValidationError(
            gettext("This is %(current)s already. Load the page again.")
            % {"current": current.get_state_display().lower()}
        )
    current.state, current.disputed_why = State.DISPUTED, why[:400]
    current.disputed_at, current.disputed_by = timezone.now(), user
    current.save(update_fields=["state", "disputed_why", "disputed_at", "disputed_by"])
    return current


@needs(Act.BENDERS)
@transaction.atomic
def answer_damage(*, organisation: Organisation, user: User, damage: Damage, withdraw: bool, answer: str) -> Damage:
    """``withdraw``: the member owes it no more; else a disputed one stands. Raises ValidationError by field."""
    lock_currency(organisation=organisation)
    current = Damage.objects.of(organisation).select_for_update(of=("self",)).get(pk=damage.pk)
    answer = " ".join(answer.split())
    if not answer:
        raise ValidationError({"answer": gettext("Say why in a few words. The member reads this.")})
    if current.state == State.WITHDRAWN or (current.state != State.DISPUTED and not withdraw):
        raise ValidationError(
            gettext("This is %(current)s. Load the page again.") % {"current": current.get_state_display().lower()}
        )
    if withdraw:
        take_entries_back(organisation=organisation, user=user, entries=[current.entry], reason=answer)
    current.state, current.answer = State.WITHDRAWN if withdraw else State.STANDS, answer[:400]
    current.answered_at, current.answered_by = timezone.now(), user
    current.save(update_fields=["state", "answer", "answered_at", "answered_by"])
    return current


@needs(Act.BENDERS)
@transaction.atomic
def take_back_charge(*, organisation: Organisation, user: User, entry: MemberEntry, reason: str) -> MemberEntry:
    """Days, pulls or a late return of a booking; it is proposed anew. Raises ValidationError by field."""
    if entry.kind not in (Kind.DAYS, Kind.PULLS, Kind.LATE):
        raise ValidationError(gettext("This is taken back where it was made."))
    [back] = take_entries_back(organisation=organisation, user=user, entries=[entry], reason=reason)
    return back
