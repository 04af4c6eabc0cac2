"""A sign-in ends after its time; the administration wants a second step; what is refused is logged."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth import logout
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext

from farmbuild.access import log, second_step, signins
from farmbuild.orgs.addresses import reverse_outside

#: In the session that follows: the page of signing in says why.
TIME_UP = "time_up"


def ends_in_time(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Stands after Django's own, which knows the user, and before anything that lets them in."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if signins.is_signed_in(request.session):
            now = time.time()
            if signins.is_over(request.session, now):
                if request.user.is_authenticated:
                    log.write(log.What.TIME_UP, user=request.user, request=request)
                logout(request)
                request.session[TIME_UP] = True
            elif request.user.is_authenticated:
                signins.mark_seen(request, now)
        return get_response(request)

    return middleware


def logs_refusals(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Of whoever is signed in. A busy database is no reason to answer nothing."""

    def middleware(request: HttpRequest) -> HttpResponse:
        answer = get_response(request)
        if getattr(answer, "refused", False) and request.user.is_authenticated:
            with contextlib.suppress(OperationalError):
                log.write_refused(request)
        return answer

    return middleware


def administration_by_two_steps(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Whoever keeps the server turns a second step on before its pages open. Stands where messages are there."""

    def middleware(request: HttpRequest) -> HttpResponse:
        return get_response(request)

    def process_view(request: HttpRequest, view: Callable, args: tuple, kwargs: dict) -> HttpResponse | None:
        keeper = (
            request.resolver_match.namespace == "admin" and request.user.is_authenticated and request.user.is_superuser
        )
        if not keeper or second_step.is_on(user=request.user):
            return None
        messages.info(request, gettext("The administration opens once your sign-in has a second step."))
        return redirect(reverse_outside("access:step-on"))

    middleware.process_view = process_view
    return middleware
