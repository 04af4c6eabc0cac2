"""Nobody fills the disk by one request: what may follow the headers is known from them."""

from __future__ import annotations

import socket
import threading
import time

import pytest
from django.conf import settings
from django.core.wsgi import get_wsgi_application
from django.test import Client
from waitress.adjustments import Adjustments
from waitress.server import BaseWSGIServer

from farmbuild.access.models import Session
from farmbuild.common import request_size
from farmbuild.common.request_size import (
    MAX_OF_PEOPLE,
    MAX_OF_STRANGERS,
    _Channel,
    _Parser,
    keep_waitress_to_it,
    waitress_server,
)

MADE_UP = "Cookie: csrftoken=a; sessionid=abcdefghijklmnopqrstuvwxyz012345\r\n"


def cookie_of(user) -> str:
    client = Client()
    client.force_login(user)
    return f"Cookie: {settings.SESSION_COOKIE_NAME}={client.cookies[settings.SESSION_COOKIE_NAME].value}\r\n"


def parser(*headers: str) -> _Parser:
    found = _Parser(Adjustments())
    found.received(("POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\n" + "".join(headers) + "\r\n").encode())
    return found


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("who", ["nobody", "made up", "signed out", "signed in"])
def test_a_body_is_taken_up_to_the_bound_and_refused_unread_past_it(who, user):
    cookie = {"nobody": "", "made up": MADE_UP}.get(who) if who in ("nobody", "made up") else cookie_of(user)
    if who == "signed out":
        Session.objects.filter(user=user).delete()
    most = MAX_OF_PEOPLE if who == "signed in" else MAX_OF_STRANGERS
    assert parser(cookie, f"Content-Length: {most}\r\n").error is None
    refused = parser(cookie, f"Content-Length: {most + 1}\r\n", "Expect: 100-continue\r\n")
    assert refused.completed and refused.error.code == 413 and not refused.expect_continue
    assert f"at most {most // 1024**2} MB" in refused.error.body


def test_no_sign_in_is_looked_up_for_what_is_small(monkeypatch):
    monkeypatch.setattr(request_size, "is_signed_in", lambda cookies: pytest.fail("it was"))
    assert parser(MADE_UP, f"Content-Length: {MAX_OF_STRANGERS}\r\n").error is None


@pytest.mark.parametrize("cookie", ["", MADE_UP])
def test_a_body_without_a_length_is_refused_as_it_passes_the_bound(cookie):
    chunk = b"10000\r\n" + b"x" * 0x10000 + b"\r\n"
    found = parser(cookie, "Transfer-Encoding: chunked\r\n")
    for _ in range(MAX_OF_STRANGERS // 0x10000):
        assert found.error is None
        found.received(chunk)
    found.received(chunk)
    assert found.error.code == 413
    found.close()


def test_any_server_of_waitress_in_this_process_has_the_bounds(monkeypatch):
    """Also that of the command of waitress itself, which loads the application first."""
    monkeypatch.setattr(BaseWSGIServer, "channel_class", BaseWSGIServer.channel_class)
    keep_waitress_to_it()
    assert BaseWSGIServer.channel_class is _Channel and _Channel.parser_class is _Parser


@pytest.fixture
def served(monkeypatch, transactional_db):
    monkeypatch.setattr(BaseWSGIServer, "channel_class", BaseWSGIServer.channel_class)
    server = waitress_server(get_wsgi_application(), host="127.0.0.1", port=0, threads=1)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield server.effective_port
    # It ends when its sockets are gone, which its own loop closes.
    server.trigger.pull_trigger(server.close)
    thread.join(10)
    server.task_dispatcher.shutdown()


def answer_to(port: int, headers: str, body: int) -> tuple[bytes, int, float]:
    """What comes back when so many bytes are said to follow and are sent as far as they are taken; how many were."""
    began, sent = time.monotonic(), 0
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        line.sendall(f"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\n{headers}Content-Length: {body}\r\n\r\n".encode())
        line.settimeout(0.2)
        answer = b""
        while not answer:
            try:
                answer = line.recv(65536)
            except TimeoutError:
                sent += line.send(b"x" * 65536)
        line.settimeout(20)
        while more := line.recv(65536):
            answer += more
    return answer, sent, time.monotonic() - began


@pytest.mark.parametrize("headers", ["", MADE_UP], ids=["nobody", "made-up"])
def test_a_stranger_has_the_refusal_on_the_line_before_the_body_is_sent(served, headers):
    answer, sent, _ = answer_to(served, headers, 200 * 1024**2)
    assert answer.startswith(b"HTTP/1.1 413") and b"at most 1 MB" in answer
    assert sent <= MAX_OF_STRANGERS


def test_whoever_sends_all_of_it_first_still_reads_the_refusal(served):
    """As browsers do: the line stays open for what comes, and nothing of it is kept."""
    body = 8 * 1024**2
    with socket.create_connection(("127.0.0.1", served), timeout=20) as line:
        line.sendall(f"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: {body}\r\n\r\n".encode())
        for _ in range(body // 65536):
            line.sendall(b"x" * 65536)
        answer = b""
        while more := line.recv(65536):
            answer += more
    assert b"413" in answer and b"Nothing of it was read" in answer


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
