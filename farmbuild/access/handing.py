"""A link and a code on their way from the press that made them to the page that shows them.

They are kept nowhere, so the browser of whoever made them carries them, sealed, for that one page and a few minutes.
"""

from __future__ import annotations

from django.conf import settings
from django.core.signing import BadSignature
from django.http import HttpRequest, HttpResponse

from farmbuild.access.cards import Handed, by_link
from farmbuild.access.models import Card

SECONDS = 900
_SALT = "farmbuild.access.handing"


def _name(card: Card) -> str:
    return f"{card.CALLED}-{card.pk}"


def carry(response: HttpResponse, handed: Handed, *, path: str) -> HttpResponse:
    """``path``: of the page that shows them."""
    response.set_signed_cookie(
        _name(handed.invitation),
        f"{handed.token} {handed.code}",
        salt=_SALT,
        max_age=SECONDS,
        path=path,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )
    return response


def carried(request: HttpRequest, card: Card) -> Handed | None:
    """None once its minutes are over, or another link was made."""
    try:
        token, code = request.get_signed_cookie(_name(card), salt=_SALT, max_age=SECONDS).split(" ")
    except (KeyError, BadSignature, ValueError):
        return None
    return Handed(card, token, code) if by_link(type(card), token) == card else None
