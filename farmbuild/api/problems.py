"""What went wrong, told to a program: problem details (RFC 9457), in the words that a page would say."""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from http import HTTPStatus

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import DatabaseError
from django.http import HttpResponse
from ninja import Field, Schema

from farmbuild.common.database_faults import another_was_first, what_failed

logger = logging.getLogger(__name__)
MEDIA_TYPE = "application/problem+json"


class FieldProblem(Schema):
    """``field``: where it is in what was sent; empty where it is of the whole."""

    field: str
    detail: str


class Problem(Schema):
    """RFC 9457; ``errors`` says what is wrong field by field, ``request`` is the number that the log has."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    errors: list[FieldProblem] = []
    request: str = Field("", description="The number of the request, for whoever keeps the server.")


class Refusal(Exception):
    """An answer of that status; ``headers`` go along."""

    def __init__(self, status: int, detail: str, *, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(detail)
        self.status, self.detail, self.headers = status, detail, dict(headers or {})


def problem(
    status: int,
    detail: str,
    *,
    errors: list[tuple[str, str]] | None = None,
    number: str = "",
    headers: Mapping[str, str] | None = None,
) -> HttpResponse:
    body = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "errors": [{"field": field, "detail": words} for field, words in errors or ()],
        "request": number,
    }
    return HttpResponse(json.dumps(body), status=status, content_type=MEDIA_TYPE, headers=dict(headers or {}))


def by_field(error: ValidationError, names: Mapping[str, str] | None = None) -> list[tuple[str, str]]:
    """What a service refuses. ``names``: what a program calls a field that the service calls otherwise."""
    if not hasattr(error, "error_dict"):
        return [("", words) for words in error.messages]
    return [
        ("" if field == NON_FIELD_ERRORS else (names or {}).get(field, field), words)
        for field, some in error.message_dict.items()
        for words in some
    ]


def database_problem(error: DatabaseError, *, number: str) -> HttpResponse:
    """``again`` is on it where another try may do."""
    if another_was_first(error):
        answer = problem(503, "Another change was first. Ask once more.", number=number, headers={"Retry-After": "1"})
        answer.again = error
        return answer
    logger.exception("%s", type(error).__name__, exc_info=error)
    return problem(503, what_failed(error), number=number)
