"""Every page of the demo season in Chromium: three widths, no sideways scrolling, no serious axe finding."""

from __future__ import annotations

import re
from collections import deque
from html import unescape
from urllib.parse import urlsplit

import pytest

from tests.browser.reading import problems_of
from tests.size import sized

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Enough to find each kind of page; pages of one kind differ only in their rows.
PAGES_OF_ONE_KIND = 2
#: Of which so many are opened in Chromium.
OPENED = sized(1, PAGES_OF_ONE_KIND)
LINK = re.compile(r'<a\b[^>]*\bhref="([^"]*)"')


def kind_of(path: str) -> tuple[str, ...]:
    """The address with names and numbers blanked by Django's own resolver: one value a kind of page."""
    from django.urls import resolve

    match = resolve(path)
    return (match.view_name, *sorted(match.kwargs))


def walk(client, start: str = "/houses/"):
    """Addresses reachable by links from ``start``, at most two of a kind, each with its number in its kind."""
    queue, seen, kinds = deque([start]), {start}, {}
    while queue:
        path = queue.popleft()
        kind = kind_of(path)
        if kinds.get(kind, 0) >= PAGES_OF_ONE_KIND or path.startswith("/admin/"):
            continue
        kinds[kind] = kinds.get(kind, 0) + 1
        answer = client.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        yield path, kinds[kind]
        for href in LINK.findall(answer.content.decode()):
            target = urlsplit(unescape(href))
            if not target.netloc and target.path.startswith("/") and target.path not in seen:
                seen.add(target.path)
                queue.append(target.path)


def test_every_page_reads_well(page_at, client, live_server):
    page = page_at(1440)
    problems: list[str] = []
    outside: list[str] = []
    page.on(
        "request",
        lambda request: outside.append(request.url) if not request.url.startswith((live_server.url, "data:")) else None,
    )
    page.on("console", lambda message: problems.append(f"console: {message.text}") if message.type == "error" else None)
    page.on("pageerror", lambda error: problems.append(f"script: {error}"))
    visited = []
    for path, count in walk(client):
        visited.append(path)
        if count > OPENED:
            continue
        assert page.goto(path).status == 200, path
        name = path.strip("/").replace("/", "_") or "home"
        problems += problems_of(page, axe_at=(1440,), keep=name if count == 1 else "")
    assert not problems, "\n".join(problems)
    assert not outside
    assert len(visited) > 20, visited
