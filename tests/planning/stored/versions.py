"""What earlier versions stored: a season of the demo as it was written then, and any season put back into that form.

``demo_season_v1.json.gz`` holds inputs and result of the first plan of ``manage.py demo``, with their digests, as the
last program that stored version 1 wrote them.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
PARTS = ("count", "width", "height")


def demo_season_v1() -> dict[str, Any]:
    """``inputs``, ``inputs_digest``, ``result`` and ``result_digest``."""
    found: dict[str, Any] = json.loads(gzip.decompress((HERE / "demo_season_v1.json.gz").read_bytes()))
    return found


def as_version_1(data: Mapping[str, Any], name: str = "season") -> dict[str, Any]:
    """A stored season or plan of today as version 1 stored it: doors of each end in one object.

    Fields that version 1 did not have yet are left out; what it stored of the demo season tells which it had.
    """
    plain = data[name]
    if name == "season":
        houses = []
        for house in plain["houses"]:
            spec = dict(house["spec"])
            for end in ("front", "back"):
                spec[f"{end}_doors"] = {part: spec.pop(f"{end}_door_{part}") for part in PARTS}
            houses.append(house | {"spec": spec})
        plain = plain | {"houses": houses}
    stored = demo_season_v1()["inputs" if name == "season" else "result"]
    return {"version": 1, name: _known(plain, stored[name])}


def _known(plain: Any, like: Any) -> Any:
    """Only the fields that ``like`` has, all the way down."""
    if isinstance(plain, dict) and isinstance(like, dict):
        return {name: _known(value, like[name]) for name, value in plain.items() if name in like}
    if isinstance(plain, list) and isinstance(like, list) and like:
        return [_known(value, like[0]) for value in plain]
    return plain
