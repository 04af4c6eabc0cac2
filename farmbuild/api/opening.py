"""How a question of programs is written: one line says its address, its name, who may ask and what is answered."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.problems import Problem

#: What any address may answer beside what it is for.
PROBLEMS = dict.fromkeys((401, 403, 404, 422, 429, 503), Problem)


def reads(router: Router, path: str, name: str, answer: type[Schema], auth: Bearer, summary: str) -> Callable[..., Any]:
    return router.get(
        path, auth=auth, response={200: answer, **PROBLEMS}, operation_id=name, url_name=name, summary=summary
    )
