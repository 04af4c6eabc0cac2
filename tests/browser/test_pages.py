"""Every page of the demo season in Chromium: no sideways scrolling, no serious axe finding, and short on a phone."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.http import HttpResponse

import tests.client
from tests.browser.reading import (
    LOOKED_AT,
    SCREENS,
    WORDS,
    drawing_problems,
    phone_problems,
    photograph_paper,
    problems_of,
    words_in,
)
from tests.size import sized
from tests.walks import OF_MANY_STATES, PAGES_OF_ONE_KIND, walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Of which so many are opened in Chromium.
OPENED = sized(1, PAGES_OF_ONE_KIND)
#: Of these so many are walked through, for a row in one state leads where one in another does not.
LEAD_ON = OF_MANY_STATES | {"coop:joint", "quotes:change", "quotes:job"}


@pytest.fixture
def demo(transactional_db):
    """The season with its work up to today: pages are as long as they get."""
    from farmbuild.demo.season import load_season

    return load_season()


@pytest.fixture
def answers(live_server, monkeypatch) -> Iterator[dict[str, HttpResponse]]:
    """By address, what the server gives to the browser that asks for that page next; the page as it came to the client,
    before that takes the organisation off its addresses."""
    ready: dict[str, HttpResponse] = {}
    server, take_off = live_server.thread.httpd, tests.client._take_off
    works_out = server.get_app()

    def keep(answer, *own):
        if not answer.streaming:
            answer.as_it_came = answer.content
        take_off(answer, *own)

    def app(environ, start_response):
        answer = ready.pop(environ["PATH_INFO"], None) if environ.get("HTTP_SEC_FETCH_DEST") == "document" else None
        if answer is None:
            return works_out(environ, start_response)
        body = getattr(answer, "as_it_came", answer.content)
        headers = dict(answer.items()) | {"Content-Length": str(len(body))}
        start_response(f"{answer.status_code} {answer.reason_phrase}", list(headers.items()))
        return [body]

    monkeypatch.setattr(tests.client, "_take_off", keep)
    server.set_app(app)
    yield ready
    server.set_app(works_out)


def test_lengths_are_one_word_of_a_sentence():
    assert words_in("2 sticks make a hoop 13' 1 9/16\" wide and 6' 0 15/16\" high.") == 10
    assert words_in("Trial hoop – 26 sticks") == 4


WRONG = f"""<!doctype html><html lang="en"><title>A page</title><main>
  <h1>One</h1><h1>Two</h1><p class="answer">{" word" * (WORDS + 1)}.</p><input>
  <div style="width: 500px; height: {(SCREENS + 1) * 844}px">wide</div>
  <p style="color: #999">Faint</p>
  <button style="display: block; height: 20px; padding: 0">Press</button>
  <table class="table"><tbody><tr class="linked" style="height: 80px"><td>High</td></tr></tbody></table>
  <details class="drawing"><summary>Folded</summary><svg><title>House</title>
    <text y="20">over</text><text y="20">under</text><line x2="9" stroke="red" stroke-width="5"/></svg></details>
</main>"""


def test_what_is_wrong_with_a_page_is_found(chromium):
    page = chromium.new_page()
    page.set_content(WRONG)
    told = problems_of(page, widths=(390,), axe_at=(390,)) + drawing_problems(page) + phone_problems(page)
    page.close()
    said = "\n".join(told)
    for words in (
        "2 headings of the first rank",
        "px at 390 px",
        "px with text at 200 %",
        "px at 320 px",
        "label: <input>",
        "color-contrast: <p",
        '"over" lies over "under"',
        ": 5 px",
        "screens of a phone long",
        f"begins with {WORDS + 1} words",
        "lower than a glove finds: Press",
        "more than two lines: High",
    ):
        assert words in said, f"{words} is not in:\n{said}"


def test_every_page_reads_well(page_at, client, live_server, answers):
    """Each as it was answered on the way there. At a desk axe looks at it; a tablet is of the long run."""
    server = urlsplit(live_server.url)
    client.defaults |= {"SERVER_NAME": server.hostname, "SERVER_PORT": str(server.port)}
    page = page_at(1440)
    page.add_init_script(AXE_SCRIPT)
    problems: list[str] = []
    outside: list[str] = []
    page.on(
        "request",
        lambda request: outside.append(request.url) if not request.url.startswith((live_server.url, "data:")) else None,
    )
    page.on("console", lambda message: problems.append(f"console: {message.text}") if message.type == "error" else None)
    page.on("pageerror", lambda error: problems.append(f"script: {error}"))
    visited = []
    for path, count, answer in walk(client, most=lambda name: PAGES_OF_ONE_KIND if name in LEAD_ON else OPENED):
        visited.append(path)
        if count > OPENED:
            continue
        address = answer.request["PATH_INFO"]
        answers[address] = answer
        assert page.goto(address).status == 200 and not answers, path
        name = path.strip("/").replace("/", "_") or "home"
        keep = name if count == 1 else ""
        for width in LOOKED_AT[::-1]:
            problems += problems_of(page, widths=(width,), axe_at=(1440,), keep=keep)
            problems += drawing_problems(page)
        problems += phone_problems(page)
        photograph_paper(page, f"{name}-print")
    assert not problems, "\n".join(problems)
    assert not outside
    assert len(visited) > 20, visited
