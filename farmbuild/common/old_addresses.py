"""Addresses that pages had before: bookmarks, printed links and forms that lay open lead on to those of today."""

from __future__ import annotations

import re
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponsePermanentRedirect
from django.utils.encoding import escape_uri_path

#: What an old address looks like, and what stands there today. The first that fits is used.
OLD = [
    (re.compile(f"^/{was}$"), f"/{now}")
    for was, now in [
        ("crew/templates-standard/", "crew/steps-standard/"),
        ("crew/templates/(.*)", r"crew/steps/\1"),
        ("crew/benders/proposal/", "crew/benders/who-gets-which/"),
        ("borrowing/calendar/revoke/", "borrowing/calendar/cancel/"),
        ("crew/(benders|day)/calendars/([^/]+)/revoke/", r"crew/\1/calendars/\2/cancel/"),
        (r"crew/benders/members/([^/]+)/sign-ins/(\d+)/shut/", r"crew/benders/members/\1/sign-ins/\2/close/"),
        (r"stock/counts/(\d+)/drop/", r"stock/counts/\1/cancel/"),
        (r"stock/movements/(\d+)/put-back/", r"stock/movements/\1/return/"),
        (r"stock/movements/(\d+)/give-back/", r"stock/movements/\1/loan-return/"),
        (r"hoops/batches/(\d+)/give-back/", r"hoops/batches/\1/return/"),
        ("houses/([^/]+)/held/put-back/", r"houses/\1/held/return/"),
        (r"stock/season-end/left\.xlsx", "stock/season-end/leftovers.xlsx"),
    ]
]


def address_today(path: str) -> str | None:
    """Where the page of an old address is now; None where ``path`` is no old address."""
    return next((was.sub(now, path) for was, now in OLD if was.match(path)), None)


def old_addresses(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """The method and what was typed go along, so that a form sent from an old page still does its work."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if (now := address_today(request.path_info)) is None:
            return get_response(request)
        query = request.META.get("QUERY_STRING", "")
        start = request.path.removesuffix(request.path_info)
        today = escape_uri_path(f"{start}{now}")
        return HttpResponsePermanentRedirect(f"{today}{'?' if query else ''}{query}", preserve_request=True)

    return middleware
