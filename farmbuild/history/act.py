"""The act under way: what it touches, as it was before."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar, Token
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model


@dataclass
class Gone:
    """What a deleted row was called, also where it goes as a whole part, and belonged to."""

    name: str
    whole: str
    organisation: int | None
    parent: int | None
    key: str


@dataclass
class Act:
    """``before``: by table and key the values as they were; None: made in this act."""

    user: Any
    organisation: Any
    before: dict[type[Model], dict[int, dict[str, Any] | None]] = field(default_factory=lambda: defaultdict(dict))
    #: Rows made in this act, as they were handed to the database.
    made: dict[type[Model], dict[int, Any]] = field(default_factory=lambda: defaultdict(dict))
    gone: dict[tuple[type[Model], int], Gone] = field(default_factory=dict)
    #: Tables that this act is not told of.
    quiet: frozenset[type[Model]] = frozenset()


_current: ContextVar[Act | None] = ContextVar("history_act", default=None)


def current() -> Act | None:
    """The act under way in this thread; None: nobody's, as in background work."""
    return _current.get()


def begin(act: Act) -> Token[Act | None]:
    return _current.set(act)


def end(token: Token[Act | None]) -> None:
    _current.reset(token)


@contextmanager
def not_told(*models: type[Model]) -> Iterator[None]:
    """What happens to these tables inside follows from something that is told, row by row it is nobody's change."""
    act = _current.get()
    if act is None:
        yield
        return
    before, act.quiet = act.quiet, act.quiet | frozenset(models)
    try:
        yield
    finally:
        act.quiet = before
