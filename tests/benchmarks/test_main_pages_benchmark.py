"""Processor time of each main page of the demo season against the bare page for signing in, in one run.

The goal is four times the bare page, for a page that is opened again while nobody writes. A page that is too near to it
to be held to it on a busy machine, or far below it, stands here with its own bound, a fifth above what it took on
30 November 2026: it may not get worse.
"""

from __future__ import annotations

from functools import partial

import pytest
from django.template.base import Template
from django.test import Client
from django.test.utils import _TestState
from pytest_benchmark.fixture import BenchmarkFixture

from farmbuild.demo.season import load_season
from farmbuild.orgs.models import User
from tests.benchmarks.turns import by_turns, little_rubbish
from tests.client import PlainClient, plain
from tests.main_pages import main_pages

pytestmark = pytest.mark.django_db(transaction=True)

GOAL = 4.0
ROUNDS = 5
#: Times the bare page, of pages that are near to the goal; and of those that are kept whole.
OVER = {"joint orders": 4.5, "crew": 4.5} | dict.fromkeys(
    ("take-off", "cutting", "job", "quote", "costs", "accounts"), 1.5
)


def test_main_pages(
    benchmark: BenchmarkFixture,
    client: Client,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Under test Django copies the context of every template for assertions, which a server does not.
    monkeypatch.setattr(Template, "_render", _TestState.saved_data.template_render)
    load_season()
    client.force_login(User.objects.get(username="odile"))
    stranger, browser, own = PlainClient(), plain(client), f"/of/{client.slug()}"
    times = {}
    with little_rubbish():
        for name, path in main_pages().items():
            opens = partial(browser.get, own + path)
            page, bare = by_turns(opens, lambda: stranger.get("/sign-in/"), rounds=ROUNDS, enough=OVER.get(name, GOAL))
            times[name] = page / bare
    benchmark.pedantic(browser.get, (own + main_pages()["houses"],), rounds=1)
    with capsys.disabled():
        print("\ntimes the bare page: " + ", ".join(f"{name} {found:.1f}" for name, found in times.items()))
    slow = {name: found for name, found in times.items() if found > OVER.get(name, GOAL)}
    assert slow == {}
    assert set(OVER) <= set(times)
