"""How much one request may bring. Strangers send a name and a password; whoever is signed in sends photos and files,
which have bounds of their own where they are read.

A server puts a body on its disk before the application sees it, so waitress, however it is started, looks at the
headers first (``keep_waitress_to_it``), and whether their sign-in is one; behind another server the middleware refuses
what has arrived, unread.
"""

from __future__ import annotations

import copy
import logging
import socket
import time
from collections.abc import Callable
from importlib import import_module
from typing import Any

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.db import connections
from django.http import HttpRequest, HttpResponse, parse_cookie
from django.shortcuts import render
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import BaseWSGIServer, create_server
from waitress.task import ErrorTask
from waitress.utilities import RequestEntityTooLarge

_MB = 1024 * 1024
#: Of somebody who is not signed in, and of whoever is: four whole photos of 20 MB each and what stands around them.
MAX_OF_STRANGERS, MAX_OF_PEOPLE = 1 * _MB, 84 * _MB
#: Seconds for which what still comes of a refused body is thrown away, so that the refusal is read before.
LINGER = 10
logger = logging.getLogger(__name__)


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


def is_signed_in(cookies: str) -> bool:
    """Whether the cookies of a request are those of somebody who is signed in."""
    key = parse_cookie(cookies).get(settings.SESSION_COOKIE_NAME, "")
    if not key:
        return False
    try:
        return SESSION_KEY in import_module(settings.SESSION_ENGINE).SessionStore(key).load()
    except Exception:
        # Nobody is kept waiting by a database that does not answer; what is small is taken all the same.
        logger.warning("A sign-in could not be looked up", exc_info=True)
        return False
    finally:
        # This thread asks for nothing else.
        connections.close_all()


class _Parser(HTTPRequestParser):
    """Knows from the headers how much may follow them."""

    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        # Only a body that is large for a stranger is worth a look into the database; one without a length is small.
        large = self.content_length > MAX_OF_STRANGERS and is_signed_in(self.headers.get("COOKIE", ""))
        self.adj = copy.copy(self.adj)
        self.adj.max_request_body_size = (MAX_OF_PEOPLE if large else MAX_OF_STRANGERS) + 1

    def received(self, data: bytes) -> int:
        consumed = super().received(data)
        if isinstance(self.error, RequestEntityTooLarge):
            most = self.adj.max_request_body_size - 1
            self.error = RequestEntityTooLarge(words_of(most, stranger=most == MAX_OF_STRANGERS))
            # Nobody is asked to send it.
            self.expect_continue = False
        return consumed


class _Refusal(ErrorTask):
    def execute(self) -> None:
        self.channel.refused = isinstance(self.request.error, RequestEntityTooLarge)
        super().execute()


class _Channel(HTTPChannel):
    parser_class = _Parser
    error_task_class = _Refusal
    refused = False
    #: When the line ends though more comes; 0: nothing was refused on it.
    lingers_until = 0.0

    def handle_write(self) -> None:
        if not (self.refused and self.close_when_flushed):
            super().handle_write()
            return
        self._flush_exception(self._flush_some)
        if not self.total_outbufs_len:
            # A line that is closed over what still comes is reset, and the other end may never read the answer.
            self.close_when_flushed, self.lingers_until = False, time.monotonic() + LINGER
            try:
                self.socket.shutdown(socket.SHUT_WR)
            except OSError:
                self.will_close = True
        if self.will_close:
            self.handle_close()

    def handle_read(self) -> None:
        if not self.lingers_until:
            super().handle_read()
        elif not self.recv(self.adj.recv_bytes) or time.monotonic() > self.lingers_until:
            self.handle_close()


def keep_waitress_to_it() -> None:
    """Every server of waitress in this process keeps to these bounds, whatever it was told of bodies."""
    BaseWSGIServer.channel_class = _Channel


def waitress_server(application: Callable[..., Any], **where: Any) -> Any:
    """A server of waitress that keeps to these bounds; ``where``: host, port and what else it takes."""
    keep_waitress_to_it()
    return create_server(application, **where)
