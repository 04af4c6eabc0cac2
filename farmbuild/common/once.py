"""One user action is one transaction, and counts once however often it arrives.

Each form carries a token. The first time it does something, the token is stored with it; when the same comes again,
pressed twice or sent again after a lost answer, the reader is led to where the first press led. What the database gave
up for another's sake is tried again a few times before anybody is told.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterable
from datetime import timedelta
from functools import wraps
from secrets import token_hex
from typing import Any, TypeVar

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, OperationalError, transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import URLPattern, URLResolver
from django.utils import timezone

from farmbuild.common.database_faults import another_try_may_do
from farmbuild.common.models import Press

FIELD = "once"
TRIES = 4
#: Seconds before the first new try; each later one waits twice as long.
PAUSE = 0.05
#: A form that lay open for longer is a new one.
KEPT = timedelta(days=30)

View = TypeVar("View", bound=Callable[..., HttpResponse])


def new_token() -> str:
    return token_hex(16)


def own_transactions(view: View) -> View:
    """For a page that starts long work: it is no single transaction, and what it does twice does nothing more."""
    view.own_transactions = True  # type: ignore[attr-defined]
    return view


def counted_once(patterns: Iterable[URLPattern | URLResolver]) -> None:
    """What a form of these addresses asks for is done whole and once, or not at all."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            counted_once(pattern.url_patterns)
        elif not hasattr(pattern.callback, "counted_once"):
            pattern.callback = user_action(pattern.callback)


def user_action(view: View) -> View:
    """The view in one transaction, tried again where the database gave it up for another's sake."""
    if getattr(view, "own_transactions", False):
        return view

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        _check_whose(request)
        queued = len(messages.get_messages(request)._queued_messages)
        for pause in (PAUSE * 2**n for n in range(TRIES - 1)):
            try:
                return _act(request, view, args, kwargs)
            except OperationalError as error:
                if not another_try_may_do(error):
                    raise
            time.sleep(pause)
            _as_it_came(request, queued)
        return _act(request, view, args, kwargs)

    wrapped.counted_once = True  # type: ignore[attr-defined]
    return wrapped  # type: ignore[return-value]


def _act(request: HttpRequest, view: View, args: Any, kwargs: Any) -> HttpResponse:
    with transaction.atomic():
        press, first = _claim(request)
        if press and not first:
            if not request.accepts("text/html"):
                return JsonResponse({"kept": True, "to": press.went_to})
            messages.info(request, "This was recorded already, so it was not done twice.")
            return redirect(press.went_to)
        response = view(request, *args, **kwargs)
        to = response.headers.get("Location")
        if press and to and not _refused(request):
            Press.objects.filter(pk=press.pk).update(went_to=to)
        elif press:
            press.delete()
    return response


def _check_whose(request: HttpRequest) -> None:
    """A phone says who pressed what waited on it: somebody else may have signed in there since."""
    own = str(request.user.pk)
    if request.headers.get("X-Pressed-By", own) != own:
        raise PermissionDenied("Somebody else pressed this. It waits on the phone until they sign in there again.")


def _refused(request: HttpRequest) -> bool:
    """A page that was refused leads back with the reason as an error; nothing was done then."""
    return any(message.level >= messages.ERROR for message in messages.get_messages(request)._queued_messages)


def _as_it_came(request: HttpRequest, queued: int) -> None:
    """A new try begins without what the last one said and read."""
    del messages.get_messages(request)._queued_messages[queued:]
    for file in request.FILES.values():
        file.seek(0)


def _claim(request: HttpRequest) -> tuple[Press | None, bool]:
    """The press of this form and whether it is the first; None for a form without a token.

    Of two that arrive at once the second waits here until the first has ended.
    """
    token = request.POST.get(FIELD, "")
    if not token or len(token) > 32 or not request.user.is_authenticated:
        return None, True
    what = {"user": request.user, "token": token, "digest": _digest(request)}
    try:
        with transaction.atomic():
            press = Press.objects.create(**what)
    except IntegrityError:
        return Press.objects.get(**what), False
    Press.objects.filter(user=request.user, at__lt=timezone.now() - KEPT).delete()
    return press, True


def _digest(request: HttpRequest) -> str:
    sent = {name: values for name, values in request.POST.lists() if name != "csrfmiddlewaretoken"}
    files = {name: [(file.name, file.size) for file in some] for name, some in request.FILES.lists()}
    return hashlib.sha256(json.dumps([request.get_full_path_info(), sent, files], sort_keys=True).encode()).hexdigest()
