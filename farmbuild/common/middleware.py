"""Headers that every answer carries, addresses that cannot be, and the answer to two people changing one thing."""

from collections.abc import Callable

from django.db import OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from farmbuild.common.unbroken import unbroken

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
    """In pages, and in what a script writes into one; files and calendars stay to the letter."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
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


class BusyDatabaseMiddleware:
    """The database let another change go first, or was busy too long. A user action is one transaction, so nothing
    of this one was done and the browser's way back still has what was typed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if request.method != "POST" or not isinstance(exception, OperationalError):
            return None
        response = render(request, "busy.html", status=503)
        response.headers["Retry-After"] = "1"
        return response
