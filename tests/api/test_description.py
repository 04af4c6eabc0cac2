"""Whatever the description lets a program send, the answer is one that the description knows, and never a fault.

Over the invented season, half of the time at rows that are there.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
import requests
import schemathesis
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.core.transport import Response
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from farmbuild.api.description import described
from farmbuild.api.marks import MOST
from farmbuild.buying.models import PurchaseOrder
from farmbuild.crew.models import Task
from farmbuild.plans.models import Plan
from farmbuild.quotes.models import Job
from farmbuild.sites.models import House, Site
from farmbuild.stock.models import Lot, StockCount
from tests.api.conftest import Program, make
from tests.size import sized
from tests.walks import add_job, load

pytestmark = pytest.mark.django_db

EXAMPLES = sized(4, 100)
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
#: Of what the library has ready for a request.
_SENT = {"method", "url", "headers", "params", "json", "data", "files"}
LISTS = ("sites", "houses", "recipes", "materials", "suppliers", "offers", "places", "lots", "movements", "plans")
MORE = ("orders", "tasks", "benders", "members", "bookings", "bender-requests", "jobs", "quotes", "counts")


@pytest.fixture(scope="module")
def season(django_db_setup, django_db_blocker):
    """(organisation, secret of a token of its owner); nothing of it stays."""
    with django_db_blocker.unblock(), transaction.atomic():
        demo = load()
        add_job(demo)
        yield demo.organisation, make(demo.organisation, demo.user)
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def rows(season) -> dict[tuple[str, str], list[Any]]:
    """By the beginning of an address and the name in it: what is there."""
    of = {"organisation": season[0]}

    def first(model: Any, name: str) -> list[Any]:
        return [*model.objects.filter(**of).order_by("pk").values_list(name, flat=True)[:3]]

    return {
        ("sites", "slug"): first(Site, "slug"),
        ("houses", "slug"): first(House, "slug"),
        ("lots", "reference"): first(Lot, "reference"),
        ("plans", "number"): first(Plan, "number"),
        ("orders", "number"): first(PurchaseOrder, "number"),
        ("tasks", "id"): first(Task, "pk"),
        ("jobs", "number"): first(Job, "number"),
        ("counts", "number"): first(StockCount, "number"),
    }


def ask(case: Any, secret: str) -> Response:
    """What a program would send of this, sent through Django's own client: in this transaction."""
    kwargs = case.as_transport_kwargs(base_url="http://testserver")
    sent = requests.Request(**{name: kwargs[name] for name in _SENT & kwargs.keys()}).prepare()
    client = Client(raise_request_exception=False)
    told = {name: value for name, value in sent.headers.items() if name.lower() != "authorization"}
    answer = client.generic(
        sent.method,
        sent.path_url,
        sent.body or "",
        content_type=told.pop("Content-Type", "application/json"),
        headers=told | {"Authorization": f"Bearer {secret}"},
    )
    headers = {name.lower(): [value] for name, value in answer.headers.items()}
    return Response(
        status_code=answer.status_code,
        headers=headers,
        content=answer.content,
        request=sent,
        elapsed=0.0,
        verify=False,
    )


def test_no_answer_is_a_fault_or_one_that_the_description_does_not_know(season, rows, monkeypatch):
    from django.conf import settings as site

    monkeypatch.setattr(site, "API_A_MINUTE", 10**6)
    answered: dict[str, set[int]] = {}

    def try_one(operation: Any) -> None:
        part = operation.path.removeprefix("/api/1/").split("/")[0]

        @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=[*HealthCheck])
        @given(case=operation.as_strategy(), there=st.sampled_from([True, False]), data=st.data())
        def tried(case: Any, there: bool, data: Any) -> None:
            for name in case.path_parameters or {}:
                if there and (known := rows.get((part, name))):
                    case.path_parameters[name] = data.draw(st.sampled_from(known))
            with transaction.atomic():
                answer = ask(case, season[1])
                case.validate_response(answer, checks=CHECKS)
                transaction.set_rollback(True)
            answered.setdefault(operation.definition.raw["operationId"], set()).add(answer.status_code)

        tried()

    description = schemathesis.openapi.from_dict(json.loads(json.dumps(described(), default=str)))
    for result in description.get_all_operations():
        try_one(result.ok())
    assert len(answered) >= 28
    reading = {each["get"]["operationId"] for each in described()["paths"].values() if "get" in each}
    assert not {name for name in reading if 200 not in answered[name]}, "nobody was answered there"
    assert not {name for name in answered if answered[name] <= {404}}, "nothing was found there"


@pytest.mark.parametrize("name", LISTS + MORE)
def test_a_list_asks_the_database_a_few_times_however_long_it_is(season, name):
    """Token, membership, count, acts, and at most two of the list."""
    program = Program(season[1])
    found = []
    for limit in (1, MOST):
        with CaptureQueriesContext(connection) as queries:
            answer = program.get(f"/{name}", limit=limit)
        assert answer.status_code == 200
        found.append(len(queries))
    assert found[1] <= found[0] <= 6, [query["sql"][:300] for query in queries.captured_queries]


def test_every_list_of_the_season_has_rows(season):
    program = Program(season[1])
    empty = [name for name in LISTS + MORE if not program.get(f"/{name}").json()["items"]]
    assert empty == []
    number = Plan.objects.filter(organisation=season[0], state="ready").earliest("pk").number
    for part in ("cut-list", "buy-list", "leftovers"):
        assert program.get(f"/plans/{number}/{part}").json()["items"], part
