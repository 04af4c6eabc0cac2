"""A sign-in ends after its time: without use, or at all."""

from __future__ import annotations

import time
from collections.abc import Callable

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse

from farmbuild.access import log, signins

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
