"""Tokens: made and shown once, found again by their digest, ended."""

from __future__ import annotations

import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access.codes import digest_of
from farmbuild.api.models import Token
from farmbuild.api.scopes import ACTS, Scope, acts_of_scopes
from farmbuild.common.speaking import said, said_either
from farmbuild.orgs.acts import Act, acts_of, check_may, may, needs
from farmbuild.orgs.models import Membership, Organisation, User

DAYS, MAX_DAYS = 90, 366
#: In use at once, of one person in one organisation.
MOST = 20
#: So that whoever finds one in a file knows what it is.
_PREFIX = "fb1_"
_SHOWN = 9


@dataclass(frozen=True)
class Shown:
    """``secret`` is known only in this moment."""

    token: Token
    secret: str


def tokens_of(*, organisation: Organisation, user: User) -> QuerySet[Token]:
    """Whoever says who may do what sees all of them, others their own; those in use first, the newest in front."""
    rows = Token.objects.of(organisation).select_related("user", "organisation")
    if not may(organisation=organisation, user=user, act=Act.PEOPLE):
        rows = rows.filter(user=user)
    return rows.order_by("-made_at", "-pk")


def open_tokens_of(*, organisation: Organisation, user: User) -> QuerySet[Token]:
    """Those that let a program in still."""
    return _in_use(tokens_of(organisation=organisation, user=user))


def _in_use(rows: QuerySet[Token]) -> QuerySet[Token]:
    return rows.filter(ended_at=None, ends_at__gt=timezone.now())


@needs(Act.PLAN)
@transaction.atomic
def make_token(
    *, organisation: Organisation, user: User, name: str, scopes: Collection[str], days: int = DAYS
) -> Shown:
    """For whoever makes it, and never beyond what they may do. Raises ValidationError by field."""
    # Under the lock of the organisation, as every change of who may do what.
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    if not name.strip():
        raise ValidationError({"name": gettext("Type what the program is called.")})
    if not scopes or {*scopes} - {*Scope}:
        raise ValidationError({"scopes": gettext("Tick what the program may do.")})
    if not 1 <= days <= MAX_DAYS:
        raise ValidationError(
            {"days": gettext("Type how many days it lasts, from 1 to %(most)s.") % {"most": MAX_DAYS}}
        )
    if beyond := acts_of_scopes(scopes) - acts_of(organisation=organisation, user=user):
        words = said_either(said(act.words) for act in Act if act in beyond)
        raise ValidationError(
            {"scopes": gettext("You may not %(words)s yourself, so no program may for you.") % {"words": words}}
        )
    own = Token.objects.of(organisation).filter(user=user)
    if _in_use(own).count() >= MOST:
        raise ValidationError(
            gettext("You have %(most)s programs let in already. End one that you do not need.") % {"most": MOST}
        )
    secret = _PREFIX + secrets.token_urlsafe(32)
    token = Token(
        organisation=organisation,
        user=user,
        name=name.strip(),
        digest=digest_of(secret, use="token"),
        begins=secret[:_SHOWN],
        scopes=[scope.value for scope in ACTS if scope in {*scopes}],
        ends_at=timezone.now() + timedelta(days=days),
    )
    token.clean_fields(exclude=["user"])
    token.save()
    return Shown(token, secret)


@needs(Act.PLAN)
@transaction.atomic
def end_token(*, organisation: Organisation, user: User, token: Token) -> None:
    """One's own, or anybody's where one says who may do what. Nothing where it is over already."""
    row = Token.objects.of(organisation).select_for_update(of=("self",)).get(pk=token.pk)
    if row.user_id != user.pk:
        check_may(organisation=organisation, user=user, act=Act.PEOPLE)
    if row.ended_at is None:
        row.ended_at = timezone.now()
        row.save(update_fields=["ended_at"])


def end_tokens_of(*, organisation: Organisation, user: User) -> None:
    """They do not belong to the organisation any more."""
    Token.objects.of(organisation).filter(user=user, ended_at=None).update(ended_at=timezone.now())


def by_secret(secret: str) -> Token | None:
    """The token of this secret while it lasts, of somebody who belongs to the organisation still."""
    found = _in_use(Token.objects.filter(digest=digest_of(secret[:200], use="token")))
    token = found.select_related("user", "organisation").first()
    if token is None or not token.user.is_active or token.user.visitor:
        return None
    belongs = Membership.objects.filter(organisation=token.organisation_id, user=token.user_id).exists()
    return token if belongs else None
