"""Invitations: cards by which somebody joins an organisation; made, taken once, withdrawn, over after their days."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access import cards, log
from farmbuild.access.cards import DAYS, Handed, draw, locked, opened
from farmbuild.access.models import Invitation
from farmbuild.access.signals import joined
from farmbuild.measure import join_words
from farmbuild.orgs.acts import READY_SETS, Act, Role, acts_of, needs
from farmbuild.orgs.models import Membership, Organisation, User


def invitations_of(*, organisation: Organisation) -> QuerySet[Invitation]:
    """The newest first."""
    return Invitation.objects.of(organisation).select_related("made_by", "taken_by", "organisation")


def open_invitations_of(*, organisation: Organisation) -> QuerySet[Invitation]:
    """Those that let in still."""
    rows = invitations_of(organisation=organisation)
    return rows.filter(taken_at=None, withdrawn_at=None, ends_at__gt=timezone.now())


@needs(Act.PEOPLE)
@transaction.atomic
def invite(
    *, organisation: Organisation, user: User, name: str, role: str, email: str = "", days: int = DAYS
) -> Handed:
    """Raises ValidationError by field."""
    _check_reach(organisation, user, role)
    row = Invitation(organisation=organisation, made_by=user, name=name.strip(), role=role, email=email.strip())
    handed = draw(row, days)
    row.clean_fields(exclude=["made_by", "withdrawn_at", "taken_at", "taken_by"])
    row.save()
    return handed


@needs(Act.PEOPLE)
@transaction.atomic
def renew(*, organisation: Organisation, user: User, invitation: Invitation, days: int = DAYS) -> Handed:
    """Another link and code for the same person; those before are void. Raises ValidationError once it is taken."""
    row = locked(invitation)
    _check_reach(organisation, user, row.role)
    if row.taken_at:
        raise ValidationError(gettext("%(row)s has taken it already.") % {"row": _taker(row)})
    row.withdrawn_at = None
    handed = draw(row, days)
    row.save()
    return handed


@needs(Act.PEOPLE)
@transaction.atomic
def withdraw(*, organisation: Organisation, user: User, invitation: Invitation) -> None:
    """Raises ValidationError once it is taken."""
    row = locked(invitation)
    if row.taken_at:
        raise ValidationError(gettext("%(row)s has taken it already. Take them out instead.") % {"row": _taker(row)})
    if row.withdrawn_at is None:
        row.withdrawn_at = timezone.now()
        row.save(update_fields=["withdrawn_at"])


def _taker(row: Invitation) -> str:
    return row.taken_by.display_name if row.taken_by else gettext("Someone")


def _check_reach(organisation: Organisation, user: User | None, role: str) -> None:
    if role not in READY_SETS:
        raise ValidationError({"role": gettext("Choose a role from the list.")})
    if user is not None and (beyond := READY_SETS[Role(role)] - acts_of(organisation=organisation, user=user)):
        words = join_words([act.words for act in Act if act in beyond], "or")
        raise ValidationError(
            {"role": gettext("You may not %(words)s yourself, so you cannot invite to it.") % {"words": words}}
        )


# Whoever takes it


def by_link(token: str) -> Invitation | None:
    return cards.by_link(Invitation, token)


def by_code(typed: str, *, request: HttpRequest) -> Invitation | None:
    return cards.by_code(Invitation, typed, request=request)


def by_key(digest: str) -> Invitation | None:
    return cards.by_key(Invitation, digest)


@transaction.atomic
def take_as(*, user: User, digest: str) -> Membership:
    """Whoever is signed in joins. Raises ValidationError in words."""
    row = opened(Invitation, digest)
    if user.visitor:
        raise ValidationError(
            gettext("This sign-in is for your bookings alone. Sign out, and take it with another name.")
        )
    return _join(row, user)


@transaction.atomic
def take_as_new(*, digest: str, name: str, username: str, password: str) -> Membership:
    """Makes the sign-in and joins. Raises ValidationError by field."""
    row = opened(Invitation, digest)
    user = User(username=username.strip(), first_name=name.strip(), email=row.email)
    try:
        User.username_validator(user.username)
    except ValidationError as error:
        raise ValidationError({"username": gettext("Type letters, figures and . @ + - _ without spaces.")}) from error
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
    taken = ValidationError(
        {"username": gettext("Someone signs in as %(username)s already. Type another.") % {"username": user.username}}
    )
    if User.objects.filter(username__iexact=user.username).exists():
        raise taken
    user.set_password(password)
    user.full_clean(validate_unique=False)
    try:
        with transaction.atomic():
            user.save()
    except IntegrityError as error:
        # Someone else was quicker.
        raise taken from error
    return _join(row, user)


def _join(row: Invitation, user: User) -> Membership:
    # Under the lock of the organisation, as every change of its people.
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=row.organisation_id)
    if Membership.objects.filter(organisation=organisation, user=user).exists():
        raise ValidationError(
            gettext("You belong to %(organisation)s already. Leave the invitation to %(row)s.")
            % {"organisation": organisation, "row": row.name}
        )
    person = Membership.objects.create(organisation=organisation, user=user, role=row.role)
    row.taken_at, row.taken_by = timezone.now(), user
    row.save(update_fields=["taken_at", "taken_by"])
    log.write(log.What.JOINED, user=user, by=row.made_by)
    joined.send(Invitation, organisation=organisation, user=user, invitation=row)
    return person
