"""Headers that every answer carries, addresses that cannot be, and the answer to two people changing one thing."""

import logging
from collections.abc import Callable

from django.db import DatabaseError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from farmbuild.common.database_faults import another_was_first, what_failed
from farmbuild.common.telling.requests import number_of
from farmbuild.common.unbroken import unbroken

logger = logging.getLogger(__name__)

#: Nothing is loaded from anywhere but this server.
POLICY = (
    "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'self'; form-action 'self';"
    " frame-ancestors 'none'"
)
#: No page asks for what a phone knows; a photo is taken by the phone's own camera, through the file box.
PERMISSIONS = "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()"

_OF_PAGES = ("text/html", "application/json")


def content_security_policy(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        return response

    return middleware


def unbroken_lengths(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """In pages, and in what a script writes into one; files, calendars and answers to programs stay to the letter."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if getattr(request, "for_a_program", False):
            return response
        if not response.streaming and response.headers.get("Content-Type", "").startswith(_OF_PAGES):
            response.content = unbroken(response.content)
        return response

    return middleware


def no_such_character(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """PostgreSQL keeps no NUL, so no page or row has one in its address."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if "\x00" in request.path or "%00" in request.META.get("QUERY_STRING", ""):
            raise Http404("No address has this character.")
        return get_response(request)

    return middleware


class DatabaseFaults:
    """The database let another change go first, or failed. A user action is one transaction, so nothing of this one
    was done and the browser's way back still has what was typed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, DatabaseError):
            return None
        pressed = request.method == "POST"
        if pressed and another_was_first(exception):
            response = render(request, "busy.html", status=503)
            response.headers["Retry-After"] = "1"
            return response
        if not isinstance(exception, OperationalError):
            # A mistake in the program, which its own page tells of.
            return None
        logger.error("The database failed: %s", exception, exc_info=exception)
        # Without the usual frame of a page, which asks the database.
        context = {"says": what_failed(exception), "pressed": pressed, "number": number_of(request)}
        return render(None, "database_failed.html", context, status=503)
