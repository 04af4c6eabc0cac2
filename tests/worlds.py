"""One world of rows for the tests of a file that ask for the same fixtures, in place of one made anew for each.

What fixtures store is stored once, inside a transaction that stays open until another world is asked for. Each test
runs in a transaction within it, as ever, and gets copies of what the fixtures gave, all copied together, so that the
same row is one object in all of them. Nothing that a test does reaches the next.

Shared are fixtures of these tests that take nothing but each other and the database, have no end of their own, and
give rows and values, no functions. A test whose own fixtures move clock or settings has a world of its own.
"""

from __future__ import annotations

import copy
import inspect
import types
from collections.abc import Callable, Iterator
from itertools import groupby
from typing import Any

import pytest
from django.db import transaction

_DATABASE = frozenset({"db", "_django_db_helper", "django_db_setup", "django_db_blocker"})
#: By these a fixture may change how rows are made.
_MOVES = frozenset({"monkeypatch", "settings", "request"})


class CannotBeShared(Exception):
    """A function in what a fixture gave may hold the rows of the world itself."""


def _never(value: Any, memo: dict[int, Any]) -> None:
    raise CannotBeShared


def copied(values: dict[str, Any]) -> dict[str, Any]:
    """All together. Raises CannotBeShared."""
    kinds = (types.FunctionType, types.MethodType)
    before = {kind: copy._deepcopy_dispatch.get(kind) for kind in kinds}  # type: ignore[attr-defined]
    copy._deepcopy_dispatch.update(dict.fromkeys(kinds, _never))  # type: ignore[attr-defined]
    try:
        return copy.deepcopy(values)
    finally:
        for kind, way in before.items():
            if way is None:
                del copy._deepcopy_dispatch[kind]  # type: ignore[attr-defined]
            else:
                copy._deepcopy_dispatch[kind] = way  # type: ignore[attr-defined]


def _of_these_tests(definition: Any) -> bool:
    return "/site-packages/" not in inspect.getfile(definition.func)


def _giving(value: Any) -> Callable[..., Any]:
    def give(**asked: Any) -> Any:
        return value

    return give


class Worlds:
    """The plugin. ``shares(item)``: whether the file of a test is one of those that share."""

    def __init__(self, shares: Callable[[pytest.Item], bool]) -> None:
        self.shares = shares
        self.key: tuple[Any, ...] | None = None
        self.values: dict[str, Any] = {}
        self.given: dict[str, Any] = {}
        self.open: Any = None
        self.blocker: Any = None
        self.alone: set[str] = set()

    def names_of(self, item: pytest.Item) -> tuple[str, ...]:
        """Its fixtures that are shared; none where it has a world of its own."""
        mark = item.get_closest_marker("django_db")
        own = {"transactional_db", "live_server"} & set(item.fixturenames) or (mark and mark.kwargs)
        if own or not self.shares(item):
            return ()
        known = item._fixtureinfo.name2fixturedefs
        shared: dict[str, bool] = {}

        def shareable(name: str) -> bool:
            if name in _DATABASE:
                return True
            if name not in shared:
                [*_, definition] = known.get(name, [None])
                shared[name] = (
                    definition is not None
                    and name not in self.alone
                    and definition.scope == "function"
                    and not definition.params
                    and not definition._autouse
                    and _of_these_tests(definition)
                    and not inspect.isgeneratorfunction(definition.func)
                    # Neither of a class nor inside another, nor over one of the same name.
                    and definition.func.__qualname__ == definition.func.__name__
                    and name not in definition.argnames
                    and all(map(shareable, definition.argnames))
                )
            return shared[name]

        def moves_something(name: str) -> bool:
            """A fixture of these tests that may change how rows are made."""
            [*_, definition] = known.get(name, [None])
            if definition is None or not _of_these_tests(definition) or definition.scope != "function":
                return False
            if shareable(name):
                return False
            return bool(_MOVES & set(definition.argnames)) or definition._autouse

        if any(map(moves_something, known)):
            return ()
        return tuple(sorted(name for name in known if name not in _DATABASE and shareable(name)))

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Tests of one world behind each other, where the first of them stands."""
        ordered: list[pytest.Item] = []
        for _, of_file in groupby(items, key=lambda item: item.path):
            of_file = list(of_file)
            if self.shares(of_file[0]):
                names = {item: self.names_of(item) for item in of_file}
                first = {each: at for at, each in reversed([*enumerate(names.values())])}
                of_file.sort(key=lambda item: first[names[item]])
            ordered += of_file
        items[:] = ordered

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        names = self.names_of(item)
        key = (item.path, names) if names else None
        if key != self.key:
            self.close()
            self.key = key
        self.given = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: Any) -> Iterator[None]:
        name = fixturedef.argname
        if self.key and name == "_django_db_helper":
            self._begin(request)
        if name in self.given and fixturedef.scope == "function":
            func = fixturedef.func
            fixturedef.func = _giving(self.given[name])
            try:
                return (yield)
            finally:
                fixturedef.func = func
        return (yield)

    def _begin(self, request: Any) -> None:
        if self.open is None:
            if self.blocker is None:
                self.blocker = request.getfixturevalue("django_db_blocker")
                # Before the database of the tests is taken down.
                request._get_active_fixturedef("django_db_setup").addfinalizer(self.close)
            with self.blocker.unblock():
                self.open = transaction.atomic()
                self.open.__enter__()
                try:
                    self._make(request.node)
                    self.given = copied(self.values)
                except CannotBeShared:
                    self._find_alone()
                    self.close()
                    return
                except BaseException:
                    # The test tells of it, by itself.
                    self.close()
                    return
        else:
            self.given = copied(self.values)

    def _make(self, item: pytest.Item) -> None:
        known = item._fixtureinfo.name2fixturedefs

        def value(name: str) -> Any:
            if name in _DATABASE:
                return None
            if name not in self.values:
                definition = known[name][-1]
                self.values[name] = definition.func(**{each: value(each) for each in definition.argnames})
            return self.values[name]

        for name in self.key[1]:
            value(name)

    def _find_alone(self) -> None:
        for name, value in self.values.items():
            try:
                copied({name: value})
            except CannotBeShared:
                self.alone.add(name)

    def close(self) -> None:
        """Takes all of it back."""
        if self.open is not None:
            with self.blocker.unblock():
                transaction.set_rollback(True)
                self.open.__exit__(None, None, None)
        self.open, self.values, self.given, self.key = None, {}, {}, None
