"""Says what is being done, once it has taken more than a second."""

from __future__ import annotations

import threading
from types import TracebackType
from typing import Self, TextIO

EVERY = 1.0


class Progress:
    """Call with (done, total, doing) inside a ``with`` block.

    A thread looks every second at what was said last, so that one long step shows too. On a terminal one line is
    written over; elsewhere each thing is said once.
    """

    def __init__(self, stream: TextIO, *, every: float = EVERY) -> None:
        self._stream, self._every = stream, every
        self._over = stream.isatty()
        self._now = self._said = ""
        self._width = 0
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __call__(self, done: int, total: int, doing: str) -> None:
        self._now = f"{doing}: {done} of {total}"

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        self._thread.join()
        if self._width and self._over:
            self._stream.write("\r" + " " * self._width + "\r")
            self._stream.flush()

    def _watch(self) -> None:
        while not self._ended.wait(self._every):
            if self._now != self._said:
                self._say(self._now)

    def _say(self, line: str) -> None:
        self._said = line
        if self._over:
            self._stream.write("\r" + line.ljust(self._width))
        else:
            self._stream.write(line + "\n")
        self._width = max(self._width, len(line))
        self._stream.flush()
