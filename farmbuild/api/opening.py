"""How a question of programs is written: one line says its address, its name, who may ask and what is answered."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ninja import Router, Schema
from ninja.decorators import decorate_view

from farmbuild.api.door import Bearer
from farmbuild.api.once import HEADER, LONGEST, counted_once
from farmbuild.api.problems import Problem

#: What any address may answer beside what it is for.
PROBLEMS = dict.fromkeys((401, 403, 404, 422, 429, 503), Problem)
_KEY = {
    "name": HEADER,
    "in": "header",
    "required": False,
    "description": "A key of your own: sent again with it, within 48 hours, nothing is done twice.",
    "schema": {"type": "string", "minLength": 1, "maxLength": LONGEST},
}


def reads(router: Router, path: str, name: str, answer: type[Schema], auth: Bearer, summary: str) -> Callable[..., Any]:
    return router.get(
        path, auth=auth, response={200: answer, **PROBLEMS}, operation_id=name, url_name=name, summary=summary
    )


def writes(
    router: Router,
    path: str,
    name: str,
    answer: type[Schema],
    auth: Bearer,
    summary: str,
    *,
    method: str = "POST",
    status: int = 201,
) -> Callable[..., Any]:
    """409 where somebody else was first."""
    add = router.api_operation(
        [method],
        path,
        auth=auth,
        response={status: answer, **PROBLEMS, 400: Problem, 409: Problem},
        operation_id=name,
        summary=summary,
        openapi_extra={"parameters": [_KEY]},
    )
    return lambda function: add(decorate_view(counted_once)(function))
