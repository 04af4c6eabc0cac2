"""What each test asks the database, written down while tests run on SQLite, so that PostgreSQL is asked all of it.

A statement is kept by its shape: without its values, and a list of any length as one. One that was refused stands
apart, with the words of the refusal, and so does one whose rows are to be locked, of which SQLite is told nothing.
``.ci/out/asked.json`` holds for each test how long it took and the digests of what it asked; a run writes anew
what it ran. A test that failed or was skipped is not in it, for it may not have asked all.
"""

from __future__ import annotations

import fcntl
import heapq
import json
import re
import time
import zlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any
from unittest.mock import patch

import pytest
from django.db import DatabaseError
from django.db.backends.utils import CursorWrapper
from django.db.models.sql.compiler import SQLCompiler

from tests.where import ROOT

FILE = ROOT / ".ci" / "out" / "asked.json"
#: Seconds that any test takes beside its own.
BESIDE = 0.02
_VALUE = r"(?:%s|0|NULL)"
_SHAPES = (
    (re.compile(r"'[^']*'|(?<![\w\"])\d+(?:\.\d+)?\b|\bs\d+_x\d+"), "0"),
    (re.compile(rf"{_VALUE}(?:, {_VALUE})+"), "%s"),
    (re.compile(r"\(%s\)(?:, \(%s\))+"), "(%s)"),
    # What bulk_update and joined conditions write once for each row.
    (re.compile(r"(WHEN .{1,200}? THEN .{1,60}?)(?: \1)+"), r"\1"),
    (re.compile(r"(\(.{1,300}?\)) (OR|AND|UNION ALL|UNION)(?: \1 \2)* \1"), r"\1"),
)
_execute = CursorWrapper._execute_with_wrappers
_as_sql = SQLCompiler.as_sql


def shape(sql: str) -> str:
    for pattern, instead in _SHAPES:
        sql = pattern.sub(instead, sql)
    return sql


@lru_cache(maxsize=4096)
def digest(sql: str, refusal: str = "", lock: str = "") -> int:
    return zlib.crc32(f"{lock} {shape(refusal)} {shape(sql)}".encode())


class Asked:
    """The plugin that writes down."""

    def __init__(self) -> None:
        self.now: set[tuple[str, ...]] = set()
        self.tests: dict[str, tuple[float, list[int]]] = {}
        self.whole = True

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        now = self.now = set()
        self.whole = True

        def execute(cursor: CursorWrapper, sql: Any, params: Any, many: bool, executor: Any) -> Any:
            try:
                done = _execute(cursor, sql, params, many, executor)
            except DatabaseError as error:
                now.add((str(sql), str(error)))
                raise
            now.add((sql,) if isinstance(sql, str) else (str(sql),))
            return done

        def as_sql(compiler: SQLCompiler, *given: Any, **named: Any) -> Any:
            sql, params = _as_sql(compiler, *given, **named)
            query = compiler.query
            if query.select_for_update:
                lock = f"lock {query.select_for_update_of} {query.select_for_update_nowait} "
                now.add((sql, "", f"{lock}{query.select_for_update_skip_locked}"))
            return sql, params

        began = time.process_time()
        with (
            patch.object(CursorWrapper, "_execute_with_wrappers", execute),
            patch.object(SQLCompiler, "as_sql", as_sql),
        ):
            result = yield
        if self.whole:
            took = time.process_time() - began
            # Threads of a server may still ask.
            self.tests[item.nodeid] = round(took, 3), sorted({digest(*asked) for asked in list(now)})
        return result

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.whole &= report.passed

    def pytest_sessionfinish(self) -> None:
        if self.tests:
            FILE.parent.mkdir(parents=True, exist_ok=True)
            with FILE.with_suffix(".lock").open("w") as lock:
                fcntl.flock(lock, fcntl.LOCK_EX)
                fresh = FILE.with_suffix(".fresh")
                fresh.write_text(json.dumps(read() | self.tests))
                fresh.replace(FILE)


def read() -> dict[str, Any]:
    """By the name of a test, its seconds and what it asked; nothing where no run on SQLite was written down."""
    return json.loads(FILE.read_text()) if FILE.exists() else {}


def that_ask_all(asked: Mapping[str, Sequence[Any]], always: Collection[str]) -> set[str]:
    """Of the tests, those beside ``always`` that ask whatever any asks, in little time.

    Time and again the test that asks most that is new for its seconds.
    """
    still = {each for _, statements in asked.values() for each in statements}
    for name in always:
        still.difference_update(asked[name][1] if name in asked else ())
    chosen = set()
    # What a test has to add only grows less: where it is still the best once worked out anew, it is the best of all.
    best = [(-len(statements) / (seconds + BESIDE), name) for name, (seconds, statements) in asked.items()]
    heapq.heapify(best)
    while still:
        _, name = heapq.heappop(best)
        seconds, statements = asked[name]
        worth = -len(still.intersection(statements)) / (seconds + BESIDE), name
        if best and worth > best[0]:
            heapq.heappush(best, worth)
        else:
            chosen.add(name)
            still.difference_update(statements)
    return chosen
