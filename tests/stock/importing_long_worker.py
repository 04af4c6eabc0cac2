"""Puts a long file into stock, as a worker that relieves the one before at once. Run by test_importing_killed.py."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from datetime import timedelta

from farmbuild.common import long_work
from farmbuild.stock import import_work, importing


def _said(done: int, rows: int) -> str:
    sys.stdout.write(f"{done} of {rows}\n")
    sys.stdout.flush()
    return f"{done} of {rows} rows"


def work(draft_pk: int) -> Iterator[object]:
    long_work.SILENCE = timedelta(0)
    importing.PARTS_AT_ONCE = 1
    import_work._of = _said
    yield "ready"
    while True:
        import_work.work_on_import(draft_pk)
        time.sleep(0.01)
