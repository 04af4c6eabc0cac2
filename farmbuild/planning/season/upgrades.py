"""Stored seasons and plans of earlier versions, brought step by step to the form of today.

What is stored is never rewritten, so its digest stays; it is brought up to date each time it is read. A field that is
added with a default needs nothing here: what was stored before it reads as the default.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from farmbuild.measure import THIN_SPACE


class SnapshotError(ValueError):
    """Stored JSON that is no season or plan as it was once written; the message says where."""


class NewerVersion(SnapshotError):
    """Stored by a newer version of the program, which this one cannot read."""


Plain = dict[str, Any]
#: Takes "season" or "plan" and what was stored of it, and gives what the next version would have stored.
Step = Callable[[str, Plain], Plain]


def _flat_doors(name: str, plain: Plain) -> Plain:
    """Version 1 kept the doors of each end as one object: ``front_doors`` of ``count``, ``width`` and ``height``."""
    if name != "season":
        return plain
    houses = []
    for house in plain["houses"]:
        spec = dict(house["spec"])
        for end in ("front", "back"):
            for part, value in spec.pop(f"{end}_doors", {}).items():
                spec[f"{end}_door_{part}"] = value
        houses.append(house | {"spec": spec})
    return plain | {"houses": houses}


def _open_sides(name: str, plain: Plain) -> Plain:
    """Version 2 did not say how the sides close: open where the film ends above the ground."""
    if name != "season":
        return plain
    return plain | {"houses": [house | {"spec": _with_sides(house["spec"])} for house in plain["houses"]]}


def _with_sides(spec: Plain) -> Plain:
    foot = Decimal(0)
    if spec.get("post_material"):
        foot = Decimal(spec["post_length"]) - Decimal(spec["post_depth"]) - Decimal(spec.get("post_socket_depth", "0"))
    short = spec.get("film_layers") and Decimal(spec.get("film_side_allowance", "0")) < foot
    return spec | {"side_closing": "open" if short else "buried"}


_BY_COMMA = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{3})+(?=(?:\.\d+)? mm\b)")


def _parted_by_space(name: str, plain: Plain) -> Plain:
    """Version 3 parted thousands of millimetres by a comma: 3,900 mm, which half of the world reads as 3.9 mm."""
    return {key: _in_words(value) for key, value in plain.items()} if name == "plan" else plain


def _in_words(value: Any) -> Any:
    if isinstance(value, str):
        return _BY_COMMA.sub(lambda found: found[0].replace(",", THIN_SPACE), value)
    if isinstance(value, list):
        return [_in_words(item) for item in value]
    if isinstance(value, dict):
        return {key: _in_words(item) for key, item in value.items()}
    return value


#: The first goes from version 1 to 2, the next from 2 to 3. None is ever changed or taken out.
STEPS: tuple[Step, ...] = (_flat_doors, _open_sides, _parted_by_space)
#: What is stored now.
VERSION = 1 + len(STEPS)


def current(name: str, data: Mapping[str, Any]) -> Plain:
    """What ``data`` stored under ``name`` ("season" or "plan"), as this version stores it; ``data`` stays as it is."""
    version = data.get("version") if isinstance(data, Mapping) else None
    if type(version) is not int or version < 1 or not isinstance(data.get(name), dict):
        raise SnapshotError(f"this is no {name} of version 1 to {VERSION}")
    if version > VERSION:
        raise NewerVersion(
            f"This {name} was made by a newer version of the program: it is stored as version {version}, and this"
            f" program reads up to version {VERSION}."
        )
    plain: Plain = data[name]
    for step in STEPS[version - 1 :]:
        try:
            plain = step(name, plain)
        except (KeyError, TypeError, AttributeError, InvalidOperation) as error:
            raise SnapshotError(f"this is no {name} of version {version}") from error
    return plain
