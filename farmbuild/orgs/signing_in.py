"""Wrong guesses at a password are slowed down, by name and by address, and every try is kept.

Whoever is at the machine lets a name or an address in again: ``manage.py axes_reset_username NAME``,
``manage.py axes_reset_ip ADDRESS``.
"""

from __future__ import annotations

import contextlib
from ipaddress import ip_address

from axes.models import AccessBase
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.utils.translation import gettext

from farmbuild.common.speaking import said_count

# OWASP ASVS 4.0.3, 2.2.1, asks for no more than 100 wrong tries of a name in an hour (from memory). The settings leave
# a tired person ten, and a guesser forty in an hour.


def address_of(request: HttpRequest) -> str | None:
    """Where the request comes from; behind a web server of ours, what that server saw and wrote last. None: nobody
    says, and then it is not counted by address, since everybody would be counted as one."""
    if settings.BEHIND_PROXY:
        with contextlib.suppress(ValueError):
            return str(ip_address(request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip()))
        return None
    return request.META.get("REMOTE_ADDR") or None


def counted_by(tried: HttpRequest | AccessBase, credentials: dict | None = None) -> list[str]:
    """By what wrong tries are added up."""
    address = address_of(tried) if isinstance(tried, HttpRequest) else tried.ip_address
    return ["username", "ip_address"] if address else ["username"]


def too_many(request: HttpRequest, answer: HttpResponse | None, credentials: dict | None) -> HttpResponse:
    """The page of signing in once more, which says how long to wait. It tells nothing of whether a name exists."""
    minutes = said_count(settings.AXES_COOLOFF_TIME.seconds // 60, "minute")
    words = gettext("Too many wrong tries. Wait %(minutes)s, then try again.") % {"minutes": minutes}
    context = {"too_many": words, "next": request.POST.get("next", "")}
    return TemplateResponse(request, "sign_in.html", context, status=429).render()
