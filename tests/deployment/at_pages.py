"""People at pages of servers while plans and schedules are asked for: each asks, and looks until it is there.

What does not come while the database is started anew is asked for again, by the very same form.
"""

from __future__ import annotations

import re
import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from http.client import HTTPConnection, HTTPException
from urllib.parse import urlencode

#: Where the page of long work shows that it goes on.
GOES_ON = "data-progress-url"
#: How many ask at the same time.
AT_A_TIME = 4


class People:
    """``answers``: how often each status came; ``said``: how often pages said each thing of work that goes on."""

    def __init__(self, ports: Sequence[int], ends: float) -> None:
        self.ports, self.ends, self.turn = list(ports), ends, 0
        self.answers: Counter[str] = Counter()
        self.said: Counter[str] = Counter()
        #: Pages of what was asked for, with the cookie of whoever asked; ``go_on``: those that were not done yet.
        self.pages: dict[str, str] = {}
        self.go_on: dict[str, str] = {}

    def ask(self, method: str, path: str, cookie: str, body: str = "", port: int | None = None):
        """Of the next server, again and again until one answers without a fault. The answer with its ``text``."""
        while time.monotonic() < self.ends:
            self.turn += 1
            line = HTTPConnection("127.0.0.1", port or self.ports[self.turn % len(self.ports)], timeout=120)
            try:
                headers = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
                line.request(method, path, body or None, headers)
                answer = line.getresponse()
                answer.text = answer.read().decode()
                self.answers[str(answer.status)] += 1
                if answer.status < 500:
                    return answer
            except (OSError, HTTPException) as error:
                self.answers[type(error).__name__] += 1
            finally:
                line.close()
            time.sleep(0.2)
        raise AssertionError(f"{path} did not come: {self.answers}")

    def press(self, asked: dict) -> None:
        """As the form of that page; ``asked`` has the page, where it goes to, a cookie, and what is typed."""
        page = self.ask("GET", asked["page"], asked["cookie"])
        names = ("csrfmiddlewaretoken", "once")
        given = [(name, re.search(rf'name="{name}" value="(\w+)"', page.text)[1]) for name in names]
        csrf = page.headers["Set-Cookie"].split(";")[0]
        body = urlencode([*given, *asked["typed"]])
        answer = self.ask("POST", asked["to"], f"{asked['cookie']}; {csrf}", body)
        assert answer.status == 302, (answer.status, answer.text[:2000])
        self.pages[answer.headers["Location"]] = self.go_on[answer.headers["Location"]] = asked["cookie"]

    def look(self) -> None:
        """At every page that goes on, once."""
        for path, cookie in [*self.go_on.items()]:
            page = self.ask("GET", path, cookie)
            assert page.status == 200, (path, page.status)
            if GOES_ON in page.text:
                note = re.search(r"data-note>([^<]*)<", page.text)[1]
                self.said[_kind(note)] += 1
            else:
                del self.go_on[path]

    def spinning(self) -> list[str]:
        """Pages that still go on, at any of the servers."""
        each = [(port, path, cookie) for port in self.ports for path, cookie in self.pages.items()]
        return [path for port, path, cookie in each if GOES_ON in self.ask("GET", path, cookie, port=port).text]


def _kind(note: str) -> str:
    kind = note.partition(":")[0]
    return kind if kind.startswith(("Waiting", "Taken up")) else "Being worked out"


def all_ask(people: People, asked: Sequence[dict], over: Callable[[], bool]) -> None:
    """Some at a time, while one looks at all pages until it is over."""
    with ThreadPoolExecutor(AT_A_TIME + 1) as pool:
        pressed = [pool.submit(people.press, one) for one in asked]
        while not over() and time.monotonic() < people.ends:
            people.look()
            time.sleep(1)
        for one in pressed:
            one.result()
