"""Every page of the demo season in Chromium: no sideways scrolling, no serious axe finding, and short on a phone."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.reading import (
    SCREENS,
    WORDS,
    first_sentence,
    photograph_paper,
    problems_of,
    reflow_problems,
    rows_too_high,
    screens,
    targets_too_low,
    words_in,
)
from tests.size import sized
from tests.walks import PAGES_OF_ONE_KIND, walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Of which so many are opened in Chromium.
OPENED = sized(1, PAGES_OF_ONE_KIND)


@pytest.fixture
def demo(transactional_db):
    """The season with its work up to today: pages are as long as they get."""
    from farmbuild.demo.season import load_season

    return load_season()


def phone_problems(page: Any) -> list[str]:
    told = reflow_problems(page)
    if (long := screens(page)) > SCREENS:
        told.append(f"{page.url} is {long:.1f} screens of a phone long")
    if (count := words_in(first_sentence(page))) > WORDS:
        told.append(f"{page.url} begins with {count} words: {first_sentence(page)}")
    told += [f"{page.url}, lower than a glove finds: {words}" for words in targets_too_low(page)]
    return told + [f"{page.url}, a row has more than two lines: {row}" for row in rows_too_high(page)]


def test_lengths_are_one_word_of_a_sentence():
    assert words_in("2 sticks make a hoop 13' 1 9/16\" wide and 6' 0 15/16\" high.") == 10
    assert words_in("Trial hoop – 26 sticks") == 4


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
        problems += phone_problems(page)
        photograph_paper(page, f"{name}-print")
    assert not problems, "\n".join(problems)
    assert not outside
    assert len(visited) > 20, visited
