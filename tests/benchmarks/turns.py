"""Timing two pieces of work against each other on a machine that does other things too."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.db import connection

from tests.size import LONG

ROUNDS = 16
#: Calls from the depth of the first round to that of the last: more than one chunk of frames.
_DEPTH = 144


def timed(act: Callable[[], object]) -> float:
    """Processor time on SQLite, which works in this process, so that what else runs does not count; else the clock."""
    clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
    start = clock()
    act()
    return clock() - start


def _deeper(depth: int, act: Callable[[], float]) -> float:
    return _deeper(depth - 1, act) if depth else act()


@contextmanager
def little_rubbish() -> Iterator[None]:
    """What the tests before have left in memory is not looked through again and again."""
    gc.collect()
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


def by_turns(
    one: Callable[[], object], other: Callable[[], object], *, rounds: int = ROUNDS, enough: float = 0.0
) -> tuple[float, float]:
    """Least seconds of ``one`` and of ``other``, turn by turn, so that what the machine does falls on both alike.

    The least is the work itself; whatever comes on top is someone else's. Python keeps its frames in chunks of
    16 KiB, and a loop that calls over the edge of a chunk has one mapped and unmapped at every call, which can double
    the time of a page. Where the edge lies is chance: it moves with the depth of the caller. So every round starts at
    another depth, and both turns of a round at the same. Where more rounds would show no more than that ``one`` takes
    less than ``enough`` times ``other``, the usual run leaves them to the long one.
    """
    with little_rubbish():
        one(), other()
        both = []
        for depth in (turn * _DEPTH // rounds for turn in range(rounds)):
            both.append((_deeper(depth, lambda: timed(one)), _deeper(depth, lambda: timed(other))))
            least_one, least_other = (min(column) for column in zip(*both, strict=True))
            if not LONG and len(both) > 1 and least_one < enough * least_other:
                break
    return least_one, least_other
