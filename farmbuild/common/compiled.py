"""Queries that a page asks at every opening: Django writes their statement once, not every time.

Writing it takes Django several times as long as the database takes to answer it. Kept is the statement alone, by all
that it depends on: the database, the clock in force, how many values there are and of which kinds. No value and no row
is kept. It is written twice, with two sets of stand-ins for the values: what differs is where the values stand. Where
anything else differs too, or a value cannot be found, the query is asked as usual.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Collection, Sequence
from datetime import UTC, date, datetime, timedelta
from enum import Enum
from functools import wraps
from operator import itemgetter
from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import connections
from django.db.models import QuerySet
from django.utils import timezone

#: Statements kept of one query, and values of a collection: beyond them it is asked as usual.
STATEMENTS, MOST = 64, 128
#: Stand-ins begin here; each set is as wide. Every column of whole numbers can hold them.
_FIRST, _WIDTH = 30_000, 1_300
_FIRST_DAY = datetime(9000, 1, 1, 3, 4, 5, tzinfo=UTC)
_LARGEST = 2_147_483_647
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


class _Statement:
    """A statement, and which of the values given stands at which of its places."""

    def __init__(self, rows: QuerySet, sql: str, parameters: Sequence[Any], places: dict[int, int]) -> None:
        self._rows, self._sql, self._parameters, self._places = rows, sql, parameters, places

    @classmethod
    def of(cls, build: Callable[[int], QuerySet], stand_ins: Callable[[int], list[Any]]) -> _Statement | None:
        """``build`` and ``stand_ins`` of set 0 and 1; None where the query has to be asked as usual."""
        rows = build(0)
        if rows.query.select_for_update:
            return None
        compiler, other = (each.query.get_compiler(using=rows.db) for each in (rows, build(1)))
        try:
            (sql, one), (other_sql, two) = compiler.as_sql(), other.as_sql()
        except EmptyResultSet:
            return None
        connection = compiler.connection
        at_of = {
            (_as_stored(first, connection), _as_stored(second, connection)): at
            for at, (first, second) in enumerate(zip(stand_ins(0), stand_ins(1), strict=True))
        }
        differing = [place for place, pair in enumerate(zip(one, two, strict=False)) if pair[0] != pair[1]]
        places = {place: at_of.get((one[place], two[place]), -1) for place in differing}
        # A number of two bytes would not hold every key.
        odd = any(type(one[place]).__name__ == "Int2" for place in differing)
        if odd or sql != other_sql or len(one) != len(two) or set(places.values()) != set(at_of.values()):
            return None
        # A day that was not given is that of the clock: it is another one tomorrow.
        if any(_is_of_a_day(value) for place, value in enumerate(one) if place not in places):
            return None
        # The connection is of this thread; each call has its own.
        compiler.connection = None
        rows.query.get_compiler = lambda *_, **__: compiler
        return cls(rows, sql, one, places)

    def ask(self, values: Sequence[Any]) -> list[Any]:
        compiler = copy.copy(self._rows.query.get_compiler())
        compiler.connection = connections[self._rows.db]
        parameters = list(self._parameters)
        for place, at in self._places.items():
            # A driver may tell the size of a number by a kind of its own.
            kind, stored = type(parameters[place]), _as_stored(values[at], compiler.connection)
            parameters[place] = stored if type(stored) is kind else kind(stored)
        compiler.as_sql = lambda *_, **__: (self._sql, tuple(parameters))
        rows, query = _shallow(self._rows), _shallow(self._rows.query)
        query.get_compiler = lambda *_, **__: compiler
        rows._query = query
        return list(rows)


def _shallow(thing: Any) -> Any:
    """Without what Django does when one is copied: the query is gone through, and the rows are asked for."""
    made = object.__new__(type(thing))
    made.__dict__ = dict(thing.__dict__)
    return made


def _as_stored(value: Any, connection: Any) -> Any:
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value(value)
    return connection.ops.adapt_datefield_value(value) if isinstance(value, date) else value


def _is_of_a_day(value: Any) -> bool:
    return isinstance(value, date) or (isinstance(value, str) and bool(_DAY.match(value)))


def _stand_in(value: Any, number: int) -> Any:
    if isinstance(value, str):
        return f"value {number}"
    if isinstance(value, date):
        moment = _FIRST_DAY + timedelta(days=number - _FIRST)
        return moment if isinstance(value, datetime) else moment.date()
    return number


def _padded(values: Collection[Any]) -> list[Any]:
    """As many as a power of two, the last one again and again: so that few statements do for any number of values."""
    found = list(values)
    return found + found[-1:] * ((1 << (len(found) - 1).bit_length()) - len(found)) if found else found


def _is_kept(value: Any) -> bool:
    return isinstance(value, (str, date)) or (type(value) is int and 0 <= value <= _LARGEST)


def compiled_once(build: Callable[..., QuerySet]) -> Callable[..., list[Any]]:
    """The rows of the query that ``build`` gives for the values of a call, as a list; asked anew at every call.

    Values are keys, texts, days, moments and collections of these, the day that it is among them; of a collection
    ``build`` asks ``__in``. What it decides by is True, False, None or of an Enum.
    """
    kept: dict[tuple[Any, ...], _Statement | None] = {}

    @wraps(build)
    def rows(*given: Any) -> list[Any]:
        values: list[Any] = []
        parts: list[Callable[[list[Any]], Any]] = []
        shape: list[Any] = [timezone.get_current_timezone_name()]
        for value in given:
            if value is None or isinstance(value, (bool, Enum)):
                parts.append(lambda stand, value=value: value)
                shape.append((type(value), value))
            elif isinstance(value, (str, date, int)):
                parts.append(itemgetter(len(values)))
                shape.append(type(value))
                values.append(value)
            else:
                some = _padded(value)
                if not 0 < len(some) <= MOST:
                    return list(build(*given))
                parts.append(itemgetter(slice(len(values), len(values) + len(some))))
                shape.append(tuple(map(type, some)))
                values += some
        if len(values) > _WIDTH or not all(map(_is_kept, values)):
            return list(build(*given))
        key = tuple(shape)
        if key not in kept:
            if len(kept) >= STATEMENTS:
                kept.clear()
            kept[key] = _written(build, parts, values)
        statement = kept.get(key)
        return statement.ask(values) if statement else list(build(*given))

    return rows


def _written(
    build: Callable[..., QuerySet], parts: Sequence[Callable[[list[Any]], Any]], values: Sequence[Any]
) -> _Statement | None:
    def stand_ins(which: int) -> list[Any]:
        return [_stand_in(value, _FIRST + which * _WIDTH + at) for at, value in enumerate(values)]

    return _Statement.of(lambda which: build(*(part(stand_ins(which)) for part in parts)), stand_ins)
