"""Which tables some work reads, seen by the statements that it has the database do."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache
from typing import Any

from django.apps import apps
from django.db import connection

#: Those who watch now, the outermost first; what one work reads within another, both do.
_watching: ContextVar[tuple[set[str], ...]] = ContextVar("watching", default=())
_WORD = re.compile(r"\w+")


@contextmanager
def tables_read() -> Iterator[set[str]]:
    """Labels of tables that are read within, or written."""
    found: set[str] = set()
    before = _watching.get()
    token = _watching.set((*before, found))
    try:
        if before:
            yield found
        else:
            with connection.execute_wrapper(_watched):
                yield found
    finally:
        _watching.reset(token)


@contextmanager
def unwatched() -> Iterator[None]:
    """Of what tells whether something stands, and shows nothing itself."""
    token = _watching.set(())
    try:
        yield
    finally:
        _watching.reset(token)


def note(labels: Iterable[str]) -> None:
    """As if they were read now: what was kept is shown in their place."""
    for found in _watching.get():
        found.update(labels)


def _watched(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Mapping[str, Any]) -> Any:
    if _watching.get():
        note(_labels_in(sql))
    return execute(sql, params, many, context)


@lru_cache(maxsize=2048)
def _labels_in(sql: str) -> frozenset[str]:
    """Whatever is named as a table is: better one too many."""
    tables = _tables()
    return frozenset(tables[word] for word in _WORD.findall(sql) if word in tables)


@cache
def _tables() -> dict[str, str]:
    return {model._meta.db_table: model._meta.label for model in apps.get_models(include_auto_created=True)}
