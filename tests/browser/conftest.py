"""A real Chromium on the demo season, served by the test's own server."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest

from tests import where

# Playwright's synchronous interface runs a loop in this thread, which Django takes for asynchronous code.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=where.chromium(),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"],
        )
        make = browser.new_context

        def new_context(**options: Any) -> Any:
            """As in a browser that keeps no pages for where there is no reception, unless a test asks for it."""
            context = make(**{"service_workers": "block"} | options)
            if "service_workers" not in options:
                context.add_init_script("delete Navigator.prototype.serviceWorker")
            return context

        browser.new_context = new_context
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def demo_kept() -> Iterator[dict[str, Any]]:
    """The demo season as the first test that asked for it found it, and the database with it."""
    kept: dict[str, Any] = {}
    yield kept
    if kept:
        kept["database"].close()


@pytest.fixture
def demo(transactional_db, demo_kept):
    """The demo season, worked out; gives what ``load_demo`` gives. Entered once, copied back for every later test."""
    from django.db import connection

    from farmbuild.demo.services import load_demo

    connection.ensure_connection()
    if demo_kept:
        demo_kept["database"].backup(connection.connection)
    else:
        demo_kept["demo"], demo_kept["database"] = load_demo(), sqlite3.connect(":memory:")
        connection.connection.backup(demo_kept["database"])
    return deepcopy(demo_kept["demo"])


@pytest.fixture
def page_at(chromium, live_server, demo, client):
    """``page_at(width, **options)`` opens a signed-in page of that width; closes them all at the end."""
    client.force_login(demo.user)
    cookie = client.cookies["sessionid"].value
    contexts = []

    def open_page(width: int, **options):
        context = chromium.new_context(
            viewport={"width": width, "height": 900}, base_url=live_server.url, reduced_motion="reduce", **options
        )
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        contexts.append(context)
        return context.new_page()

    yield open_page
    for context in contexts:
        context.close()


@pytest.fixture
def short_search(monkeypatch):
    """A schedule for pages, which need not be as short as can be."""
    monkeypatch.setattr("farmbuild.crew.schedule.working.SECONDS", 1.0)
