"""All rows of a house, worked out a second time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from tests.outside.compare import differences
from tests.outside.fittings import fittings
from tests.outside.own import own_rows
from tests.outside.rows import House, Row, main_rows


def rows(house: House) -> list[Row]:
    return main_rows(house) + [row for part in (fittings, own_rows) for row in part(house) if row.quantity]


def plan_differences(house: House, given: Iterable[Mapping[str, Any]]) -> list[str]:
    """What is otherwise in the rows of a plan; the lengths of the sticks in joined runs are the plan's to choose."""
    given = list(given)
    sticks: Counter[str] = Counter()
    for row in given:
        if row["whole"] and row["length"] is not None:
            sticks[row["purpose"]] += row["quantity"]
    return differences(rows(replace(house, joined=sticks)), given)
