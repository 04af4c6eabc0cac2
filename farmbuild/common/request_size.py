"""How much one request may bring. Strangers send a name and a password; whoever is signed in sends photos and files,
which have bounds of their own where they are read.

A server puts a body on its disk before the application sees it, so the server of ``manage.py start`` looks at the
headers first (``waitress_server``); behind another server the middleware refuses what has arrived, unread.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import create_server
from waitress.utilities import RequestEntityTooLarge

_MB = 1024 * 1024
#: Of somebody who is not signed in, and of whoever is: four whole photos of 20 MB each and what stands around them.
MAX_OF_STRANGERS, MAX_OF_PEOPLE = 1 * _MB, 84 * _MB


def words_of(most: int, *, stranger: bool) -> str:
    who = "Somebody who is not signed in sends" if stranger else "One form sends"
    return f"{who} at most {most // _MB} MB at once. Nothing of it was read."


def bounded_requests(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        size = request.META.get("CONTENT_LENGTH") or ""
        # Without a length there is no body to be read (WSGI, PEP 3333).
        if not size.isdecimal() or (sent := int(size[:20])) <= MAX_OF_STRANGERS:
            return get_response(request)
        stranger = not request.user.is_authenticated
        most = MAX_OF_STRANGERS if stranger else MAX_OF_PEOPLE
        if sent <= most:
            return get_response(request)
        return render(request, "too_large.html", {"words": words_of(most, stranger=stranger)}, status=413)

    return middleware


class _Parser(HTTPRequestParser):
    """Knows from the headers how much may follow them. A made-up sign-in gets as far as the middleware."""

    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        if f"{settings.SESSION_COOKIE_NAME}=" not in self.headers.get("COOKIE", ""):
            self.adj = copy.copy(self.adj)
            self.adj.max_request_body_size = MAX_OF_STRANGERS + 1

    def received(self, data: bytes) -> int:
        consumed = super().received(data)
        if isinstance(self.error, RequestEntityTooLarge):
            most = self.adj.max_request_body_size - 1
            self.error = RequestEntityTooLarge(words_of(most, stranger=most == MAX_OF_STRANGERS))
        return consumed


class _Channel(HTTPChannel):
    parser_class = _Parser


def waitress_server(application: Callable[..., Any], **where: Any) -> Any:
    """A server of waitress that keeps to these bounds; ``where``: host, port and what else it takes."""
    # waitress refuses from its number on.
    server = create_server(application, max_request_body_size=MAX_OF_PEOPLE + 1, **where)
    server.channel_class = _Channel
    return server
