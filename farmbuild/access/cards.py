"""Cards: drawn as a link and a code on paper, found again by their digests, open until they are taken or over.

Whoever has the link or the code may take it, so neither is kept.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import timedelta
from typing import TypeVar

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access import log
from farmbuild.access.codes import digest_of, make_code, plain
from farmbuild.access.models import Card, Entry
from farmbuild.access.places import place_of

DAYS = 7
MAX_DAYS = 60
CODE_SIGNS = 8
#: Wrong codes in a quarter of an hour: from one address, and from all together.
WRONG_HERE, WRONG_ANYWHERE, REST = 10, 100, timedelta(minutes=15)
Kind = TypeVar("Kind", bound=Card)


@dataclass(frozen=True)
class Handed:
    """What is handed over, known only in this moment. ``token``: of the link; ``code``: to type."""

    invitation: Card
    token: str
    code: str


def draw(row: Card, days: int) -> Handed:
    """Another link and code; those before are void. The caller stores the row. Raises ValidationError at ``days``."""
    if not 1 <= days <= MAX_DAYS:
        raise ValidationError(
            {"days": gettext("Type how many days it lasts, from 1 to %(max_days)s.") % {"max_days": MAX_DAYS}}
        )
    token, code = secrets.token_urlsafe(32), make_code(CODE_SIGNS)
    row.digest = _link_digest(type(row), token)
    row.code_digest = _code_digest(type(row), code)
    row.ends_at = timezone.now() + timedelta(days=days)
    return Handed(row, token, code)


def _link_digest(kind: type[Card], token: str) -> str:
    return digest_of(token, use=f"{kind.CALLED} link")


def _code_digest(kind: type[Card], code: str) -> str:
    return digest_of(plain(code), use=f"{kind.CALLED} code")


def by_link(kind: type[Kind], token: str) -> Kind | None:
    """Whatever became of it; ``why_not`` says whether it may be taken."""
    return by_key(kind, _link_digest(kind, token))


def by_code(kind: type[Kind], typed: str, *, request: HttpRequest) -> Kind | None:
    """As ``by_link``, of a code; a wrong one is counted. Raises ValidationError where too many were wrong."""
    wrong = Entry.objects.filter(what=Entry.What.WRONG_INVITATION, at__gt=timezone.now() - REST)
    here = place_of(request)["address"]
    if wrong.count() >= WRONG_ANYWHERE or (here and wrong.filter(address=here).count() >= WRONG_HERE):
        raise ValidationError(gettext("Too many wrong codes. Wait 15 minutes, then try again."))
    found = _rows(kind).filter(code_digest=_code_digest(kind, typed)).first()
    if found is None:
        log.write(log.What.WRONG_INVITATION, user=None, request=request)
    return found


def by_key(kind: type[Kind], digest: str) -> Kind | None:
    """Of the digest that a session keeps between the link and the form; void once the card is drawn anew."""
    return _rows(kind).filter(digest=digest).first()


def _rows(kind: type[Kind]) -> QuerySet[Kind]:
    return kind.objects.select_related("organisation", "made_by")


def locked(row: Kind) -> Kind:
    """As it is now; whoever else takes, renews or withdraws it waits."""
    return type(row).objects.select_for_update(of=("self",)).select_related("organisation").get(pk=row.pk)


def opened(kind: type[Kind], digest: str) -> Kind:
    """Locked, of whoever takes it. Raises ValidationError where it may not be taken."""
    found = by_key(kind, digest)
    row = locked(found) if found else None
    if row is None or row.digest != digest:
        raise ValidationError(
            gettext("This %(called)s does not work any more. Ask whoever gave it to you for another.")
            % {"called": gettext(kind.CALLED)}
        )
    if why := why_not(row):
        raise ValidationError(why)
    return row


def why_not(row: Card) -> str:
    """Why nobody may take it; empty where it is open."""
    ask = (
        gettext("Ask %(display_name)s") % {"display_name": row.made_by.display_name}
        if row.made_by
        else gettext("Ask whoever gave it to you")
    )
    if row.taken_at:
        return gettext("This %(called)s was used already. %(ask)s for another.") % {
            "called": gettext(row.CALLED),
            "ask": ask,
        }
    if row.withdrawn_at:
        return gettext("This %(called)s was withdrawn. %(ask)s, if you should have it.") % {
            "called": gettext(row.CALLED),
            "ask": ask,
        }
    if row.ends_at <= timezone.now():
        return gettext("The days of this %(called)s are over. %(ask)s for another.") % {
            "called": gettext(row.CALLED),
            "ask": ask,
        }
    return ""
