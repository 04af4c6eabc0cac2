"""Two people who change the same holds at once: the database lets one of them go first."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme

BUSY = "Somebody changed the same stock at the same moment, so nothing was done here. Look again and press once more."


def said_when_busy(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Back to the page that the press came from, with a sentence, when the database gave another the way."""

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, *args, **kwargs)
        except OperationalError:
            if request.method != "POST":
                raise
            messages.error(request, BUSY)
            page = request.headers.get("referer", "")
            safe = url_has_allowed_host_and_scheme(page, {request.get_host()}, require_https=request.is_secure())
            return redirect(page if safe else "stock:held")

    return wrapped
