"""The interface as a whole, and its description (OpenAPI 3.1)."""

from __future__ import annotations

import json
import logging
from typing import Any

from django.core.exceptions import ValidationError
from django.db import DatabaseError
from django.http import Http404, HttpRequest, HttpResponse
from ninja import NinjaAPI
from ninja.errors import HttpError
from ninja.errors import ValidationError as Malformed

from farmbuild.api.answers import ROUTERS
from farmbuild.api.problems import MEDIA_TYPE, Refusal, by_field, database_problem, problem
from farmbuild.api.webhooks.described import add_webhooks
from farmbuild.common.telling.requests import number_of
from farmbuild.orgs.acts import NotAllowed
from farmbuild.plans.bridge import NewerVersion

logger = logging.getLogger(__name__)
VERSION = "1"
ABOUT = (
    "Houses, stock, plans, orders and work of one organisation, by a token of one of its people.\n\n"
    "Lengths are exact decimals as text, in millimetres (`…_mm`); money is decimals as text beside its `currency`; days"
    " are ISO 8601. Lists come in parts: `next` is the mark to send as `after`. What goes wrong is told by RFC 9457."
)


class Interface(NinjaAPI):
    def get_openapi_schema(self, **kwargs: Any) -> Any:
        """As the library has it, problems as the media type that they are, and what addresses are told."""
        schema = super().get_openapi_schema(**kwargs)
        for path in schema["paths"].values():
            for operation in path.values():
                for status, answer in operation["responses"].items():
                    if int(status) >= 400:
                        answer["content"] = {MEDIA_TYPE: answer["content"].popitem()[1]}
        add_webhooks(schema)
        return schema


api = Interface(
    title="farmbuild",
    version=VERSION,
    description=ABOUT,
    urls_namespace="api-1",
    docs_url=None,
    openapi_url=None,
)
for _router in ROUTERS:
    api.add_router("", _router)


def described() -> dict[str, Any]:
    return api.get_openapi_schema(path_prefix="api/1/")


def _said(request: HttpRequest, status: int, detail: str, **more: Any) -> HttpResponse:
    return problem(status, detail, number=number_of(request), **more)


@api.exception_handler(Refusal)
def _refusal(request: HttpRequest, error: Refusal) -> HttpResponse:
    if error.status in (401, 403, 429):
        logger.info("%s: %s", error.status, error.detail, extra={"status": error.status})
    return _said(request, error.status, error.detail, headers=error.headers)


@api.exception_handler(NotAllowed)
def _not_allowed(request: HttpRequest, error: NotAllowed) -> HttpResponse:
    logger.info("403: %s", error, extra={"status": 403})
    return _said(request, 403, str(error))


@api.exception_handler(Http404)
def _not_found(request: HttpRequest, error: Http404) -> HttpResponse:
    return _said(request, 404, "There is no such thing here.")


@api.exception_handler(HttpError)
def _http_error(request: HttpRequest, error: HttpError) -> HttpResponse:
    return _said(request, error.status_code, str(error))


@api.exception_handler(Malformed)
def _malformed(request: HttpRequest, error: Malformed) -> HttpResponse:
    found = []
    for each in error.errors:
        where = [str(part) for part in each["loc"] if part not in ("body", "query", "path", "header")]
        # Where the schema has one object, the library puts its name before the field.
        found.append((".".join(where[1:] if len(where) > 1 and where[0] in ("sent", "asked") else where), each["msg"]))
    return _said(request, 422, "What was sent cannot be read.", errors=found)


@api.exception_handler(ValidationError)
def _refused(request: HttpRequest, error: ValidationError) -> HttpResponse:
    return _said(request, 422, " ".join(error.messages), errors=by_field(error, getattr(error, "called", None)))


@api.exception_handler(NewerVersion)
def _newer(request: HttpRequest, error: NewerVersion) -> HttpResponse:
    return _said(request, 503, "This plan was stored by a newer version of the program.")


@api.exception_handler(Exception)
def _failed(request: HttpRequest, error: Exception) -> HttpResponse:
    if isinstance(error, DatabaseError):
        return database_problem(error, number=number_of(request))
    logger.exception("%s", type(error).__name__, exc_info=error)
    return _said(request, 500, "A fault in the program. Whoever keeps the server finds it by the request's number.")


def description(request: HttpRequest) -> HttpResponse:
    """Open to everybody: it tells of the program, not of anybody."""
    return HttpResponse(json.dumps(described(), default=str), content_type="application/json")


def no_such_address(request: HttpRequest) -> HttpResponse:
    return _said(request, 404, "No such address. /api/openapi.json has them all.")
