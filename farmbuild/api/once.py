"""What a program sends is one transaction and one act of its person; with a key of its own it counts once.

The key is that of the header Idempotency-Key (draft-ietf-httpapi-idempotency-key-header, from memory). What was refused
did nothing and is not kept: sent again with the same key it is asked anew.
"""

from __future__ import annotations

import hashlib
import logging
import time
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any

from django.db import DatabaseError, IntegrityError, transaction
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from farmbuild.api.door import enter
from farmbuild.api.models import Answered, Token
from farmbuild.api.problems import Refusal, database_problem, problem
from farmbuild.common.telling.requests import number_of
from farmbuild.history.recording import recorded

HEADER = "Idempotency-Key"
KEPT = timedelta(hours=48)
LONGEST = 200
TRIES, PAUSE = 4, 0.05
logger = logging.getLogger(__name__)
View = Callable[..., HttpResponse]


class _Undone(Exception):
    """Nothing of it is stored; ``answer`` says why."""

    def __init__(self, answer: HttpResponse) -> None:
        self.answer = answer


def counted_once(view: View) -> View:
    @wraps(view)
    def run(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            token = enter(request)
        except (Refusal, DatabaseError):
            # The view comes to the same, and says it.
            return view(request, *args, **kwargs)
        for left in reversed(range(TRIES)):
            answer = _act(request, token, lambda: view(request, *args, **kwargs))
            if not left or not hasattr(answer, "again"):
                break
            time.sleep(PAUSE * 2 ** (TRIES - 1 - left))
        logger.info("%s %s: %s", request.method, request.path_info, answer.status_code)
        return answer

    return run


def _act(request: HttpRequest, token: Token, view: Callable[[], HttpResponse]) -> HttpResponse:
    try:
        with transaction.atomic():
            claim = _claim(request, token)
            if claim and claim.status:
                return _as_before(claim)
            with recorded(user=request.user, organisation=request.organisation):
                answer = view()
                if answer.status_code >= 400:
                    raise _Undone(answer)
            if claim:
                claim.status, claim.body = answer.status_code, answer.content.decode()
                claim.location = answer.headers.get("Location", "")
                claim.save(update_fields=["status", "body", "location"])
        return answer
    except _Undone as undone:
        return undone.answer
    except DatabaseError as error:
        # Of the key, or as all of it was to be stored: the view knows nothing of it.
        return database_problem(error, number=number_of(request))


def _claim(request: HttpRequest, token: Token) -> Answered | None:
    """The row of this key; one that is answered already has a status. None: it came without a key.

    Of two that come at once the second waits here until the first has ended.
    """
    key = request.headers.get(HEADER)
    if key is None:
        return None
    key = key.strip().removeprefix('"').removesuffix('"')
    if not 1 <= len(key) <= LONGEST or not key.isprintable():
        words = f"{HEADER} has 1 to {LONGEST} signs."
        raise _Undone(problem(422, words, errors=[(HEADER, words)], number=number_of(request)))
    sent = f"{request.method} {request.get_full_path()}\n".encode() + request.body
    digest = hashlib.sha256(sent).hexdigest()
    Answered.objects.filter(token=token, at__lt=timezone.now() - KEPT).delete()
    try:
        with transaction.atomic():
            return Answered.objects.create(token=token, key=key, digest=digest)
    except IntegrityError:
        found = Answered.objects.get(token=token, key=key)
    if found.digest != digest:
        words = f"This {HEADER} came with something else before. Send another."
        raise _Undone(problem(422, words, errors=[(HEADER, words)], number=number_of(request)))
    return found


def _as_before(claim: Answered) -> HttpResponse:
    answer = HttpResponse(claim.body, status=claim.status, content_type="application/json; charset=utf-8")
    if claim.location:
        answer.headers["Location"] = claim.location
    answer.headers["Idempotency-Replayed"] = "true"
    return answer
