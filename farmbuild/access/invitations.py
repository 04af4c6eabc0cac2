"""Invitations: made, handed over as a link or as a code on paper, taken once, withdrawn, over after their days.

Whoever has the link or the code is let in, so neither is kept: a digest finds the row.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import timedelta

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from farmbuild.access import log
from farmbuild.access.codes import digest_of, make_code, plain
from farmbuild.access.models import Entry, Invitation
from farmbuild.access.places import place_of
from farmbuild.access.signals import joined
from farmbuild.measure import join_words
from farmbuild.orgs.acts import READY_SETS, Act, Role, acts_of, needs
from farmbuild.orgs.models import Membership, Organisation, User

DAYS = 7
MAX_DAYS = 60
CODE_SIGNS = 8
#: Wrong codes in a quarter of an hour: from one address, and from all together.
WRONG_HERE, WRONG_ANYWHERE, REST = 10, 100, timedelta(minutes=15)


@dataclass(frozen=True)
class Handed:
    """What is handed over, known only in this moment. ``token``: of the link; ``code``: to type."""

    invitation: Invitation
    token: str
    code: str


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
    handed = _draw(row, days)
    row.clean_fields(exclude=["made_by", "withdrawn_at", "taken_at", "taken_by"])
    row.save()
    return handed


@needs(Act.PEOPLE)
@transaction.atomic
def renew(*, organisation: Organisation, user: User, invitation: Invitation, days: int = DAYS) -> Handed:
    """Another link and code for the same person; those before are void. Raises ValidationError once it is taken."""
    row = _locked(invitation)
    _check_reach(organisation, user, row.role)
    if row.taken_at:
        raise ValidationError(f"{_taker(row)} has taken it already.")
    row.withdrawn_at = None
    handed = _draw(row, days)
    row.save()
    return handed


@needs(Act.PEOPLE)
@transaction.atomic
def withdraw(*, organisation: Organisation, user: User, invitation: Invitation) -> None:
    """Raises ValidationError once it is taken."""
    row = _locked(invitation)
    if row.taken_at:
        raise ValidationError(f"{_taker(row)} has taken it already. Take them out instead.")
    if row.withdrawn_at is None:
        row.withdrawn_at = timezone.now()
        row.save(update_fields=["withdrawn_at"])


def _draw(row: Invitation, days: int) -> Handed:
    if not 1 <= days <= MAX_DAYS:
        raise ValidationError({"days": f"Type how many days it lasts, from 1 to {MAX_DAYS}."})
    token, code = secrets.token_urlsafe(32), make_code(CODE_SIGNS)
    row.digest, row.code_digest = _link_digest(token), _code_digest(code)
    row.ends_at = timezone.now() + timedelta(days=days)
    return Handed(row, token, code)


def _link_digest(token: str) -> str:
    return digest_of(token, use="invitation link")


def _code_digest(code: str) -> str:
    return digest_of(plain(code), use="invitation code")


def _taker(row: Invitation) -> str:
    return row.taken_by.display_name if row.taken_by else "Someone"


def _locked(invitation: Invitation) -> Invitation:
    """The row as it is now; whoever else takes, renews or withdraws it waits."""
    return Invitation.objects.select_for_update(of=("self",)).select_related("organisation").get(pk=invitation.pk)


def _check_reach(organisation: Organisation, user: User | None, role: str) -> None:
    if role not in READY_SETS:
        raise ValidationError({"role": "Choose a role from the list."})
    if user is not None and (beyond := READY_SETS[Role(role)] - acts_of(organisation=organisation, user=user)):
        words = join_words([act.words for act in Act if act in beyond], "or")
        raise ValidationError({"role": f"You may not {words} yourself, so you cannot invite to it."})


# Whoever takes it


def by_link(token: str) -> Invitation | None:
    """Whatever became of it; ``why_not`` says whether it lets in."""
    return _found(digest=_link_digest(token))


def by_code(typed: str, *, request: HttpRequest) -> Invitation | None:
    """As ``by_link``, of a code; a wrong one is counted. Raises ValidationError where too many were wrong."""
    wrong = Entry.objects.filter(what=Entry.What.WRONG_INVITATION, at__gt=timezone.now() - REST)
    here = place_of(request)["address"]
    if wrong.count() >= WRONG_ANYWHERE or (here and wrong.filter(address=here).count() >= WRONG_HERE):
        raise ValidationError("Too many wrong codes. Wait 15 minutes, then try again.")
    found = _found(code_digest=_code_digest(typed))
    if found is None:
        log.write(log.What.WRONG_INVITATION, user=None, request=request)
    return found


def _found(**digest: str) -> Invitation | None:
    return Invitation.objects.filter(**digest).select_related("organisation", "made_by").first()


def by_key(digest: str) -> Invitation | None:
    """Of the digest that a session keeps between the link and the form; void once the link is renewed."""
    return _found(digest=digest)


def why_not(invitation: Invitation) -> str:
    """Why nobody is let in by it; empty where it is open."""
    ask = f"Ask {invitation.made_by.display_name}" if invitation.made_by else "Ask whoever gave it to you"
    if invitation.taken_at:
        return f"This invitation was used already. {ask} for another."
    if invitation.withdrawn_at:
        return f"This invitation was withdrawn. {ask}, if you should have it."
    if invitation.ends_at <= timezone.now():
        return f"The days of this invitation are over. {ask} for another."
    return ""


@transaction.atomic
def take_as(*, user: User, digest: str) -> Membership:
    """Whoever is signed in joins. Raises ValidationError in words."""
    row = _open(digest)
    if user.visitor:
        raise ValidationError("This sign-in is for your bookings alone. Sign out, and take it with another name.")
    return _join(row, user)


@transaction.atomic
def take_as_new(*, digest: str, name: str, username: str, password: str) -> Membership:
    """Makes the sign-in and joins. Raises ValidationError by field."""
    row = _open(digest)
    user = User(username=username.strip(), first_name=name.strip(), email=row.email)
    try:
        User.username_validator(user.username)
    except ValidationError as error:
        raise ValidationError({"username": "Type letters, figures and . @ + - _ without spaces."}) from error
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
    taken = ValidationError({"username": f"Someone signs in as {user.username} already. Type another."})
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


def _open(digest: str) -> Invitation:
    found = by_key(digest)
    row = _locked(found) if found else None
    if row is None or row.digest != digest:
        raise ValidationError("This invitation does not work any more. Ask whoever gave it to you for another.")
    if why := why_not(row):
        raise ValidationError(why)
    return row


def _join(row: Invitation, user: User) -> Membership:
    # Under the lock of the organisation, as every change of its people.
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=row.organisation_id)
    if Membership.objects.filter(organisation=organisation, user=user).exists():
        raise ValidationError(f"You belong to {organisation} already. Leave the invitation to {row.name}.")
    person = Membership.objects.create(organisation=organisation, user=user, role=row.role)
    row.taken_at, row.taken_by = timezone.now(), user
    row.save(update_fields=["taken_at", "taken_by"])
    log.write(log.What.JOINED, user=user, by=row.made_by)
    joined.send(Invitation, organisation=organisation, user=user, invitation=row)
    return person
