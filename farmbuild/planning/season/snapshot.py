"""A season and its plan as canonical JSON, a digest of either, and what changed between two seasons.

Decimals are plain-notation strings without trailing zeros, dates are ISO 8601, enumerations their values,
tuples lists. Objects carry every field, so that equal values give equal text; what an earlier version stored is
brought up to date by ``upgrades.py`` and compared as values, never by its digest.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import types
import typing
from collections.abc import Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import Enum
from functools import cache
from typing import Any

from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.changes import changes
from farmbuild.planning.season.upgrades import VERSION, NewerVersion, SnapshotError, current

__all__ = [
    "VERSION",
    "NewerVersion",
    "SnapshotError",
    "canonical",
    "changes",
    "digest",
    "houses_from_json",
    "plan_from_json",
    "plan_to_json",
    "season_from_json",
    "season_to_json",
]


def decimal_text(value: Decimal) -> str:
    """Plain notation without trailing zeros: 3048, 0.5; equal numbers give equal text."""
    if not value.is_finite():
        raise ValueError(f"{value} is not a number that can be stored")
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def to_plain(value: object) -> Any:
    """Dataclasses, tuples, Decimals, dates and enumerations as JSON values."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str):
        # What is stored is English, whatever it was made of.
        return str(value)
    if value is None or isinstance(value, int | bool):
        return value
    if isinstance(value, Decimal):
        return decimal_text(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [to_plain(item) for item in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: to_plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    raise TypeError(f"{type(value).__name__} cannot be stored")


@cache
def _fields(cls: type) -> tuple[tuple[str, Any, bool], ...]:
    """Name, type and whether it may be left out, of each field."""
    hints = typing.get_type_hints(cls)
    return tuple(
        (
            f.name,
            hints[f.name],
            f.default is not dataclasses.MISSING or f.default_factory is not dataclasses.MISSING,
        )
        for f in dataclasses.fields(cls)
    )


def from_plain(kind: Any, value: Any, where: str = "") -> Any:
    """The value of type ``kind`` that ``to_plain`` gave ``value`` for; SnapshotError says where it is not."""
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        if value is None:
            return None
        inner = next(arg for arg in typing.get_args(kind) if arg is not types.NoneType)
        return from_plain(inner, value, where)
    if origin is tuple:
        inner = typing.get_args(kind)[0]
        if not isinstance(value, list):
            raise SnapshotError(f"{where}: expected a list")
        return tuple(from_plain(inner, item, f"{where}[{n}]") for n, item in enumerate(value))
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _object(kind, value, where)
    return _scalar(kind, value, where)


def _object(kind: type, value: Any, where: str) -> Any:
    if not isinstance(value, dict):
        raise SnapshotError(f"{where or kind.__name__}: expected an object")
    fields = _fields(kind)
    unknown = set(value) - {name for name, _, _ in fields}
    if unknown:
        raise NewerVersion(
            f"{where or kind.__name__}: the field {min(unknown)!r} is unknown here. This was made by a newer version of"
            " the program."
        )
    found = {}
    for name, hint, optional in fields:
        if name in value:
            found[name] = from_plain(hint, value[name], f"{where}.{name}" if where else name)
        elif not optional:
            raise SnapshotError(f"{where or kind.__name__}: field {name!r} is missing")
    return kind(**found)


def _scalar(kind: Any, value: Any, where: str) -> Any:
    try:
        if kind is Decimal and isinstance(value, str):
            return Decimal(value)
        if kind is date and isinstance(value, str):
            return date.fromisoformat(value)
        if isinstance(kind, type) and issubclass(kind, Enum):
            return kind(value)
    except (ValueError, InvalidOperation) as error:
        raise SnapshotError(f"{where}: {value!r} cannot be read") from error
    if kind in (str, int, bool) and type(value) is kind:
        return value
    raise SnapshotError(f"{where}: {value!r} cannot be read")


def season_to_json(season: Season) -> dict[str, Any]:
    return {"version": VERSION, "season": to_plain(season)}


def season_from_json(data: Mapping[str, Any]) -> Season:
    """Raises NewerVersion for what a newer version stored, SnapshotError for what is no season."""
    season = from_plain(Season, current("season", data))
    assert isinstance(season, Season)
    return season


def houses_from_json(version: Any, houses: Any) -> tuple[House, ...]:
    """Those of a stored season alone; raises as ``season_from_json`` does."""
    plain = current("season", {"version": version, "season": {"houses": houses}})
    return tuple(from_plain(House, house, f"houses[{n}]") for n, house in enumerate(plain["houses"]))


def plan_to_json(plan: SeasonPlan) -> dict[str, Any]:
    return {"version": VERSION, "plan": to_plain(plan)}


def plan_from_json(data: Mapping[str, Any]) -> SeasonPlan:
    """Raises NewerVersion for what a newer version stored, SnapshotError for what is no plan."""
    plan = from_plain(SeasonPlan, current("plan", data))
    assert isinstance(plan, SeasonPlan)
    return plan


def canonical(obj: object) -> str:
    """One line of JSON with sorted keys; the same for equal values in any process. Dicts pass as they are."""
    plain: Any
    if isinstance(obj, Season):
        plain = season_to_json(obj)
    elif isinstance(obj, SeasonPlan):
        plain = plan_to_json(obj)
    else:
        plain = obj if isinstance(obj, dict) else to_plain(obj)
    return json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def digest(obj: object) -> str:
    """SHA-256, in hex, of the canonical JSON; a season and its ``season_to_json`` have the same."""
    return hashlib.sha256(canonical(obj).encode()).hexdigest()
