"""Every page of the demo season in Chromium: three widths, no sideways scrolling, no serious axe finding."""

from __future__ import annotations

from collections import deque
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import OUT

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Enough to see each kind of page; pages of one kind differ only in their rows.
PAGES_OF_ONE_KIND = 2


def kind_of(path: str) -> tuple[str, ...]:
    """The address with names and numbers blanked by Django's own resolver: one value a kind of page."""
    from django.urls import resolve

    match = resolve(path)
    return (match.view_name, *sorted(match.kwargs))


def walk(page, start: str = "/houses/"):
    """Addresses reachable by links from ``start``, at most two of a kind, each opened in ``page``."""
    queue, seen, kinds = deque([start]), {start}, {}
    while queue:
        path = queue.popleft()
        kind = kind_of(path)
        if kinds.get(kind, 0) >= PAGES_OF_ONE_KIND or path.startswith("/admin/"):
            continue
        kinds[kind] = kinds.get(kind, 0) + 1
        answer = page.request.get(path)
        assert answer.status == 200, (path, answer.status)
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        page.goto(path)
        yield path, kinds[kind]
        for href in page.eval_on_selector_all("a[href]", "links => links.map(a => a.getAttribute('href'))"):
            target = urlsplit(href)
            if not target.netloc and target.path.startswith("/") and target.path not in seen:
                seen.add(target.path)
                queue.append(target.path)


def test_every_page_reads_well(page_at, live_server):
    wide = page_at(1440)
    narrower = {width: page_at(width) for width in (390, 820)}
    problems: list[str] = []
    outside: list[str] = []
    wide.on(
        "request",
        lambda request: outside.append(request.url) if not request.url.startswith((live_server.url, "data:")) else None,
    )
    wide.on("console", lambda message: problems.append(f"console: {message.text}") if message.type == "error" else None)
    wide.on("pageerror", lambda error: problems.append(f"script: {error}"))
    OUT.mkdir(parents=True, exist_ok=True)
    visited = []
    for path, count in walk(wide):
        visited.append(path)
        assert wide.locator("h1").count() == 1, path
        findings = Axe().run(wide).response["violations"]
        problems += [
            f"{path} {found['id']}: {found['nodes'][0]['html'][:160]}"
            for found in findings
            if found["impact"] in ("serious", "critical")
        ]
        if count > 1:
            continue
        name = path.strip("/").replace("/", "_") or "home"
        wide.screenshot(path=OUT / f"{name}-1440.png", full_page=True)
        for width, page in narrower.items():
            page.goto(path)
            page.screenshot(path=OUT / f"{name}-{width}.png", full_page=True)
            spill = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            if spill > 1:
                problems.append(f"{path} scrolls sideways by {spill} px at {width} px")
    assert not problems, "\n".join(problems)
    assert not outside
    assert len(visited) > 20, visited
