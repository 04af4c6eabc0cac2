"""Every address of programs: each role with each scope, other organisations, no token."""

from __future__ import annotations

import json
import re

import pytest
from django.test import Client

from farmbuild.api.description import api, described
from farmbuild.api.door import Bearer
from farmbuild.api.scopes import ACTS, Scope
from farmbuild.orgs.acts import READY_SETS, Role
from tests.access.people import STRANGER, VISITOR, people_of
from tests.api.conftest import Program, make
from tests.size import LONG

pytestmark = pytest.mark.django_db


def operations() -> list[tuple[str, str, str, Bearer]]:
    """(name, method, an address where nothing is, who is let in)."""
    found = []
    for bound in api._get_bound_routers():
        for path, view in bound.path_operations.items():
            for operation in view.operations:
                address = re.sub(r"\{(\w+)\}", lambda match: "999999", path)
                found += [
                    (operation.operation_id, method, address, operation.auth_callbacks[0])
                    for method in operation.methods
                ]
    return found


def test_every_address_says_who_is_let_in():
    found = operations()
    assert len(found) >= 28 and len({name for name, *_ in found}) == len(found)
    assert all(isinstance(auth, Bearer) for *_, auth in found)
    assert [name for name, *_, auth in found if not auth.acts] == ["token"], "whatever it is for, it may ask itself"


@pytest.mark.parametrize("role", Role.values)
def test_roles_and_scopes(organisation, role):
    """A token of all scopes is its person; one of a single scope does no more than that.

    Of a single scope every role tries every second address, by turns; in the long run all.
    """
    user = people_of(organisation)[role]
    tokens = {scope: Program(make(organisation, user, scope)) for scope in Scope}
    tokens[None] = Program(make(organisation, user))
    turn, wrong = [*Role].index(Role(role)), {}
    for at, (scope, program) in enumerate(tokens.items()):
        acts = READY_SETS[Role(role)] & ({*ACTS.values()} if scope is None else {ACTS[scope]})
        tried = operations() if LONG or scope is None else operations()[(turn + at) % 2 :: 2]
        for name, method, address, auth in tried:
            status = program.client.generic(
                method, f"/api/1{address}", "{}", content_type="application/json"
            ).status_code
            if (status == 403) == auth.opens(acts) or status in (401, 429) or status >= 500:
                wrong[scope, name, method] = status
    assert not wrong


def test_nobody_comes_in_without_a_token(signed_in, organisation):
    for name, method, address, _ in operations():
        for client in (Client(), signed_in):
            answer = Client.generic(client, method, f"/api/1{address}", "{}", content_type="application/json")
            assert answer.status_code == 401, (name, method)


def test_a_visitor_has_none_and_a_stranger_finds_nothing(organisation):
    found = people_of(organisation)
    assert Program(make(organisation, found[VISITOR])).get("/token").status_code == 401
    assert Program(make(organisation, found[STRANGER])).get("/token").status_code == 401


def test_what_is_no_address(program):
    for path in ("/nothing", "/houses/a%00b", "/houses?site=%00"):
        answer = program.client.get(f"/api/1{path}")
        assert (answer.status_code, answer["Content-Type"]) == (404, "application/problem+json"), path
    assert program.client.post("/api/1/sites").status_code == 405
    assert program.client.post("/api/").status_code == 404


def test_the_description_is_open_and_names_every_operation(client):
    answer = client.get("/api/openapi.json")
    assert answer.status_code == 200 and answer["Content-Type"] == "application/json"
    said = answer.json()
    assert said["openapi"] == "3.1.0" and said == json.loads(json.dumps(described(), default=str))
    names = {each["operationId"] for path in said["paths"].values() for each in path.values()}
    assert names == {name for name, *_ in operations()}
    assert all(path.startswith("/api/1/") for path in said["paths"])
    for path in said["paths"].values():
        for each in path.values():
            assert {"200", "401", "403", "404", "422", "429"} <= {*each["responses"]} | {"200"}
            assert each["security"] == [{"Bearer": []}]
