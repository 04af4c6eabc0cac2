"""Waiting for what a test waits for, and never for longer.

Two at the same rows: the second comes while the first has not ended. PostgreSQL alone lets two write at once.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from time import monotonic, sleep
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import connection, transaction

T = TypeVar("T")
PATIENCE = 30.0


def until(said: Callable[[], T], seconds: float = PATIENCE, every: float = 0.005) -> T:
    """The first answer that is true; asked again and again, ``every`` so often, for so many seconds."""
    ends = monotonic() + seconds
    while not (found := said()):
        assert monotonic() < ends, f"nothing came within {seconds} s"
        sleep(every)
    return found


def comes_second(first: Callable[[], object], second: Callable[[], object]) -> Any:
    """What ``second`` gives that began before the transaction of ``first`` ended; sentences where it was refused.

    ``second`` goes on by itself until the database makes it wait for ``first``, or until it is done.
    """
    pids: Future[int] = Future()

    def alone() -> object:
        try:
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_backend_pid()")
                pids.set_result(cursor.fetchone()[0])
            return second()
        except ValidationError as error:
            return " ".join(error.messages)
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        with transaction.atomic():
            first()
            later = pool.submit(alone)
            pid = pids.result(PATIENCE)
            until(lambda: later.done() or _waits(pid))
        return later.result(PATIENCE)


def _waits(pid: int) -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT cardinality(pg_blocking_pids(%s)) > 0", [pid])
        return bool(cursor.fetchone()[0])
