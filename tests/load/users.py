"""Many people at once at a running site: each opens a page, thinks, and opens the next."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException

#: Seconds that somebody looks at a page before opening the next.
THOUGHT = (0.5, 2.0)
#: An answer within so many seconds is felt as one's own.
SOON = 0.3


@dataclass
class Answers:
    """``seconds`` of each page that came; ``faults``: what came instead, in words, with how often."""

    seconds: list[float] = field(default_factory=list)
    faults: dict[str, int] = field(default_factory=dict)
    pages: dict[str, list[float]] = field(default_factory=dict)

    def within(self, soon: float) -> float:
        """Share of the answers, from 0 to 1; 0 where none came."""
        return sum(one <= soon for one in self.seconds) / len(self.seconds) if self.seconds else 0.0

    def at(self, percent: int) -> float:
        """Seconds within which so many in a hundred came."""
        ordered = sorted(self.seconds)
        return ordered[min(len(ordered) - 1, len(ordered) * percent // 100)] if ordered else 0.0

    def note(self, page: str, took: float, fault: str) -> None:
        if fault:
            self.faults[fault] = self.faults.get(fault, 0) + 1
            return
        self.seconds.append(took)
        self.pages.setdefault(page, []).append(took)


def visit(
    ports: Sequence[int],
    pages: Sequence[str],
    *,
    cookie: str,
    users: int,
    seconds: float,
    thought: tuple[float, float] = THOUGHT,
) -> Answers:
    """So many people on loopback for so many seconds, shared out over the ports, all signed in by ``cookie``."""
    answers, lock, until = Answers(), threading.Lock(), time.monotonic() + seconds

    def one(number: int) -> None:
        # The same pages in the same order every time.
        dice = random.Random(number)
        connection = HTTPConnection("127.0.0.1", ports[number % len(ports)], timeout=60)
        pause = dice.uniform(0, thought[1])
        while time.monotonic() + pause < until:
            time.sleep(pause)
            page = dice.choice(list(pages))
            start = time.monotonic()
            fault = _ask(connection, page, cookie)
            with lock:
                answers.note(page, time.monotonic() - start, fault)
            pause = dice.uniform(*thought)
        connection.close()

    people = [threading.Thread(target=one, args=(number,)) for number in range(users)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    return answers


def _ask(connection: HTTPConnection, page: str, cookie: str) -> str:
    """ "" for a page that came whole."""
    try:
        connection.request("GET", page, headers={"Cookie": cookie})
        answer = connection.getresponse()
        answer.read()
    except (OSError, HTTPException) as error:
        connection.close()
        return type(error).__name__
    return "" if answer.status == 200 else f"{answer.status} {page}"
