"""A secret on its way from the press that made it to the page that shows it.

It is kept nowhere, so the browser of whoever made it carries it, sealed, for that one page and a few minutes.
"""

from __future__ import annotations

from django.conf import settings
from django.core.signing import BadSignature
from django.http import HttpRequest, HttpResponse

SECONDS = 600
_SALT = "farmbuild.api.showing"


def carry(response: HttpResponse, secret: str, *, name: str, path: str) -> HttpResponse:
    """``path``: of the page that shows it."""
    response.set_signed_cookie(
        name,
        secret,
        salt=_SALT,
        max_age=SECONDS,
        path=path,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )
    return response


def carried(request: HttpRequest, *, name: str) -> str:
    """Empty once its minutes are over."""
    try:
        return request.get_signed_cookie(name, salt=_SALT, max_age=SECONDS)
    except (KeyError, BadSignature):
        return ""
