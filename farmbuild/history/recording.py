"""One person's act: what it touches is noted as it was before, and told when the act is over."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from functools import wraps
from typing import Any

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, URLResolver

from farmbuild.common.speaking import as_kept
from farmbuild.history.act import Act, begin, current, end
from farmbuild.history.writing import write


@contextmanager
def recorded(*, user: Any, organisation: Any = None) -> Iterator[None]:
    """What is changed inside is told as one act of ``user``, in the same transaction; nothing without a user.

    Inside another act it is a part of that one.
    """
    if user is None or not user.is_authenticated or current() is not None:
        yield
        return
    act = Act(user, organisation)
    token = begin(act)
    try:
        # Inside a transaction it needs no point to go back to: what fails is not told, and goes back by itself.
        with nullcontext() if connection.in_atomic_block else transaction.atomic():
            yield
            # Over before the transaction is: what follows its end, such as background work, is no part of it.
            end(token)
            token = None
            with as_kept():
                write(act)
    finally:
        if token is not None:
            end(token)


def recorded_pages(patterns: Iterable[URLPattern | URLResolver]) -> None:
    """What a form of these addresses changes is told as one act of whoever is signed in."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            recorded_pages(pattern.url_patterns)
        elif not hasattr(pattern.callback, "recorded"):
            pattern.callback = _recorded_view(pattern.callback)


def _recorded_view(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    # Such a page starts long work and is no single transaction: its services say whose act it is.
    if getattr(view, "own_transactions", False):
        return view

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        with recorded(user=request.user, organisation=getattr(request, "organisation", None)):
            return view(request, *args, **kwargs)

    wrapped.recorded = True  # type: ignore[attr-defined]
    return wrapped
