"""The answer when a stored plan is newer than this program."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from farmbuild.plans.bridge import NewerVersion


class NewerPlan:
    """A machine that was not brought up to date, or went back to an older version, says so; nothing is lost."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, NewerVersion):
            return None
        return render(request, "plans/newer.html", status=503)
