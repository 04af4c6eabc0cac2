"""Addresses for a customer: drawn at random, kept as digests, over after their days, ended at any time."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.signing import BadSignature
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access import log
from farmbuild.access.models import Entry
from farmbuild.access.places import place_of
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.models import ChangeOrder, QuoteLink, QuoteVersion

DAYS = 45
MAX_DAYS = 366
#: Wrong addresses in a quarter of an hour, from one place; and how long that place waits.
WRONG_HERE, REST = 20, timedelta(minutes=15)
#: How long the browser that made a link may show it, in seconds.
SHOWN_FOR = 900
_SALT = "farmbuild.quotes.link"


@dataclass(frozen=True)
class NewLink:
    """``secret`` is known in this moment alone."""

    link: QuoteLink
    secret: str


def digest_of(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()


@needs(Act.SEND)
@transaction.atomic
def make_link(
    *, organisation: Organisation, user: User | None, of: QuoteVersion | ChangeOrder, days: int = DAYS
) -> NewLink:
    """Raises ValidationError at "days", and of what is of another organisation or was not sent."""
    if not 1 <= days <= MAX_DAYS:
        raise ValidationError(
            {"days": gettext("Type how many days the link lasts, from 1 to %(most)s.") % {"most": MAX_DAYS}}
        )
    if of.organisation_id != organisation.pk:
        raise ValidationError(gettext("Choose one of your own quotes."))
    link = QuoteLink(organisation=organisation, made_by=user, expires_at=timezone.now() + timedelta(days=days))
    if isinstance(of, ChangeOrder):
        if of.state == ChangeOrder.State.DRAFT:
            raise ValidationError(gettext("This change order is a draft. Send it first."))
        link.change, link.job = of, of.job
    else:
        link.version, link.job = of, of.quote.job
    # 43 letters of 256 random bits.
    secret = secrets.token_urlsafe(32)
    link.digest = digest_of(secret)
    link.full_clean()
    link.save()
    return NewLink(link, secret)


@needs(Act.SEND)
@transaction.atomic
def end_link(*, organisation: Organisation, user: User | None, link: QuoteLink) -> None:
    """It leads nowhere from now on, for good."""
    current = QuoteLink.objects.of(organisation).select_for_update(of=("self",)).get(pk=link.pk)
    if current.ended_at is None:
        current.ended_at, current.ended_by = timezone.now(), user
        current.save(update_fields=["ended_at", "ended_by"])


def link_of(secret: str) -> QuoteLink | None:
    """With all that its page shows; None for one that never was, is over or was ended."""
    rows = QuoteLink.objects.select_related("organisation", "job", "version__quote", "change")
    return rows.filter(digest=digest_of(secret), ended_at=None, expires_at__gt=timezone.now()).first()


def is_resting(request: HttpRequest) -> bool:
    """Whether too many wrong addresses came from there; never where nobody says from where."""
    here = place_of(request)["address"]
    wrong = Entry.objects.filter(what=Entry.What.WRONG_ADDRESS, at__gt=timezone.now() - REST, address=here)
    return bool(here) and wrong.count() >= WRONG_HERE


def note_wrong(request: HttpRequest) -> None:
    log.write(log.What.WRONG_ADDRESS, user=None, request=request)


# From the press that made it to the page that shows it: sealed, in that browser alone.


def carry(response: HttpResponse, made: NewLink, *, path: str) -> HttpResponse:
    """``path``: of the page that shows it."""
    response.set_signed_cookie(
        _name(made.link),
        made.secret,
        salt=_SALT,
        max_age=SHOWN_FOR,
        path=path,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )
    return response


def carried(request: HttpRequest, link: QuoteLink) -> str:
    """The secret; empty once its minutes are over, or in another browser."""
    try:
        secret = request.get_signed_cookie(_name(link), salt=_SALT, max_age=SHOWN_FOR)
    except (KeyError, BadSignature):
        return ""
    return secret if digest_of(secret) == link.digest else ""


def _name(link: QuoteLink) -> str:
    return f"quote-link-{link.pk}"
