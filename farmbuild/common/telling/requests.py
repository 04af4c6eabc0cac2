"""Each request has a number; what took long, and what failed, is told with it."""

from __future__ import annotations

import logging
import re
import time
from collections.abc import Callable
from contextvars import ContextVar
from secrets import token_hex

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import requires_csrf_token

logger = logging.getLogger("farmbuild.requests")
HEADER = "X-Request-ID"
#: What a server in front may give as a number; anything else could write lines into a log.
_NUMBER = re.compile(r"[A-Za-z0-9._-]{8,64}")
#: Milliseconds from which a page is slow.
SLOW = 1000
#: Begins addresses of ours; no secret is so short and without figures.
_WORD = re.compile(r"[a-z-]{1,20}")
#: Parts of an address that are secrets, or lead to one.
_SECRET = re.compile(r"secret|token|uidb64|key|code")

_current: ContextVar[HttpRequest | None] = ContextVar("request", default=None)


def current_request() -> HttpRequest | None:
    """The request that is being answered by this thread."""
    return _current.get()


def number_of(request: HttpRequest | None) -> str:
    return getattr(request, "number", "")


def address_told(request: HttpRequest) -> str:
    """Its address without what must not stand in a log: secrets of links, and what nobody knows the meaning of."""
    match = request.resolver_match
    if match is None:
        # Nobody found a page there, and it may be a link that was typed wrongly: only a plain word is told.
        first = request.path_info.lstrip("/").split("/", 1)[0]
        return f"/{first}/…" if _WORD.fullmatch(first) else "/…"
    if any(_SECRET.search(name) for name in match.kwargs):
        return "/" + match.route
    return request.path


def numbered_requests(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """First of all, so that whatever is told of a request has its number."""

    def middleware(request: HttpRequest) -> HttpResponse:
        given = request.headers.get(HEADER, "") if settings.BEHIND_PROXY else ""
        request.number = given if _NUMBER.fullmatch(given) else token_hex(6)
        token, began = _current.set(request), time.perf_counter()
        try:
            response = get_response(request)
            took = round((time.perf_counter() - began) * 1000)
            if took >= SLOW:
                logger.warning(
                    "Slow page: %s %s took %s ms", request.method, address_told(request), took, extra={"took_ms": took}
                )
            response.headers[HEADER] = request.number
            return response
        finally:
            _current.reset(token)

    return middleware


@requires_csrf_token
def failed(request: HttpRequest) -> HttpResponse:
    """The page of a fault in the program: with the number by which the log has it, and without a query."""
    return render(None, "500.html", {"number": number_of(request)}, status=500)
