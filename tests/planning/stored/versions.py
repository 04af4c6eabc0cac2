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


def as_version_1(data: Mapping[str, Any], like: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """A stored season of today as version 1 stored it: doors of each end in one object.

    Fields that version 1 did not have yet are left out; ``like`` is what it stored, to know them by.
    """
    known = set((like or demo_season_v1()["inputs"])["season"]["houses"][0]["spec"])
    houses = []
    for house in data["season"]["houses"]:
        spec = dict(house["spec"])
        for end in ("front", "back"):
            spec[f"{end}_doors"] = {part: spec.pop(f"{end}_door_{part}") for part in PARTS}
        houses.append(house | {"spec": {name: value for name, value in spec.items() if name in known}})
    return {"version": 1, "season": data["season"] | {"houses": houses}}
