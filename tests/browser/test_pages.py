"""Every page of the demo season in Chromium: three widths, no sideways scrolling, no serious axe finding."""

from __future__ import annotations

import pytest

from tests.browser.reading import problems_of
from tests.size import sized
from tests.walks import PAGES_OF_ONE_KIND, walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Of which so many are opened in Chromium.
OPENED = sized(1, PAGES_OF_ONE_KIND)


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
    for path, count, _ in walk(client):
        visited.append(path)
        if count > OPENED:
            continue
        assert page.goto(path).status == 200, path
        name = path.strip("/").replace("/", "_") or "home"
        problems += problems_of(page, axe_at=(1440,), keep=name if count == 1 else "")
    assert not problems, "\n".join(problems)
    assert not outside
    assert len(visited) > 20, visited
