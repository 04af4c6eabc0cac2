"""Programs and people are kept apart: an address of programs knows no sign-in of a browser."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from farmbuild.api.problems import problem
from farmbuild.common.telling.requests import number_of
from farmbuild.orgs.acts import as_before

PREFIX = "/api/"


def programs(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Stands before whatever reads a cookie."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if not request.path_info.startswith(PREFIX):
            return get_response(request)
        if request.slug or "\x00" in request.path or "%00" in request.META.get("QUERY_STRING", ""):
            return problem(404, "No such address.", number=number_of(request))
        request.COOKIES = {}
        request.META.pop("HTTP_COOKIE", None)
        request.for_a_program = True
        # What a token is held to ends with its request: the next one of this thread may be of others.
        with as_before():
            return get_response(request)

    return middleware
