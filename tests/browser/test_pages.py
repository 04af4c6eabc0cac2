"""Every page of the demo season in Chromium: no sideways scrolling, no serious axe finding, and short on a phone."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import resolve

from tests.browser.reading import (
    SCREENS,
    WORDS,
    first_sentence,
    photograph_paper,
    problems_of,
    reflow_problems,
    rows_too_high,
    screens,
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


#: Kinds of pages that are longer on a phone in this season, with the reason.
LONGER = {
    "stock:count-sheets": "sheets for paper, one for each place",
    "stock:count-place": "a box to type in for each lot, with one fewer and one more beside it",
    "stock:count-materials": "the same for each material that lies there",
}
#: Kinds of pages whose first sentence has more words, with the reason.
WORDIER = {
    "stock:lot": "a long name of a material",
}
#: Kinds of pages that go to the side where text is twice as large, with the reason.
WIDER = {
    "hoops:recipe-sheet": "marks in letters for across the yard, in both units",
    "hoops:batch-sheet": "the same",
    "plans:cutting": "lengths in both units on the stick",
    "hoops:batch-attempt": "hoop wanted over hoop measured",
}


def phone_problems(page: Any, kind: str) -> list[str]:
    told = [] if kind in WIDER else reflow_problems(page)
    if (long := screens(page)) > SCREENS and kind not in LONGER:
        told.append(f"{page.url} is {long:.1f} screens of a phone long")
    if (count := words_in(first_sentence(page))) > WORDS and kind not in WORDIER:
        told.append(f"{page.url} begins with {count} words: {first_sentence(page)}")
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
        kind = resolve(path).view_name
        problems += phone_problems(page, kind)
        photograph_paper(page, f"{name}-print")
    assert not problems, "\n".join(problems)
    assert not outside
    assert len(visited) > 20, visited
