"""Nobody fills the disk by one request: what may follow the headers is known from them."""

from __future__ import annotations

import pytest
from waitress.adjustments import Adjustments

from farmbuild.common.request_size import MAX_OF_PEOPLE, MAX_OF_STRANGERS, _Parser, waitress_server

SIGNED_IN = "Cookie: csrftoken=a; sessionid=abc\r\n"


def parser(*headers: str) -> _Parser:
    found = _Parser(Adjustments(max_request_body_size=MAX_OF_PEOPLE + 1))
    found.received(("POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\n" + "".join(headers) + "\r\n").encode())
    return found


@pytest.mark.parametrize(("cookie", "most"), [("", MAX_OF_STRANGERS), (SIGNED_IN, MAX_OF_PEOPLE)])
def test_a_body_is_taken_up_to_the_bound_and_refused_unread_past_it(cookie, most):
    assert parser(cookie, f"Content-Length: {most}\r\n").error is None
    refused = parser(cookie, f"Content-Length: {most + 1}\r\n")
    assert refused.completed and refused.error.code == 413
    assert f"at most {most // 1024**2} MB" in refused.error.body


def test_a_body_without_a_length_is_refused_as_it_passes_the_bound():
    chunk = b"10000\r\n" + b"x" * 0x10000 + b"\r\n"
    found = parser("Transfer-Encoding: chunked\r\n")
    for _ in range(MAX_OF_STRANGERS // 0x10000):
        assert found.error is None
        found.received(chunk)
    found.received(chunk)
    assert found.error.code == 413
    found.close()


def test_the_server_of_one_machine_has_the_bounds():
    server = waitress_server(lambda environ, start: [], host="127.0.0.1", port=0)
    try:
        assert server.adj.max_request_body_size == MAX_OF_PEOPLE + 1
        assert server.channel_class.parser_class is _Parser
    finally:
        server.close()


@pytest.mark.django_db
def test_behind_another_server_it_is_refused_before_it_is_read(client, user):
    def post(size: int):
        return client.post("/sign-in/", b"name=x", "application/x-www-form-urlencoded", CONTENT_LENGTH=str(size))

    page = post(MAX_OF_STRANGERS + 1)
    assert page.status_code == 413
    assert "at most 1 MB" in page.content.decode()
    assert client.post("/sign-in/", {"username": "x", "password": "y" * 1000}).status_code == 200
    client.force_login(user)
    assert post(MAX_OF_PEOPLE + 1).status_code == 413
    assert "at most 84 MB" in post(MAX_OF_PEOPLE + 1).content.decode()
    assert post(10**30).status_code == 413
