"""What reading a workbook does, row by row, in words: shown before, and compared when it is done."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

#: Rows of one sheet that a page shows; the others are counted.
SHOWN = 200


class State(StrEnum):
    NEW = "new"
    CHANGED = "changed"
    LEFT = "left alone"
    SAME = "same"


@dataclass(frozen=True)
class Outcome:
    """``changes``: what, what it was and what it is then. ``words``: why a row is left alone, or what else to know."""

    sheet: str
    row: int
    name: str
    state: State
    changes: tuple[tuple[str, str, str], ...] = ()
    words: str = ""


@dataclass(frozen=True)
class Fault:
    """What keeps the workbook out: sheet, row (0 for a whole sheet), column ("" for a whole row) and a sentence."""

    sheet: str
    row: int
    column: str
    sentence: str


@dataclass
class Outcomes:
    rows: list[Outcome] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def count(self, *states: State) -> int:
        return sum(row.state in states for row in self.rows)

    @property
    def digest(self) -> str:
        """Of all that would be done, and of what would be left."""
        said = [[row.sheet, row.row, row.name, row.state, row.changes, row.words] for row in self.rows]
        said += [[fault.sheet, fault.row, fault.column, fault.sentence] for fault in self.faults]
        return hashlib.sha256(json.dumps(said).encode()).hexdigest()

    def shown(self) -> dict[str, Any]:
        """For the page, as JSON can hold it."""
        sheets = list(dict.fromkeys(row.sheet for row in self.rows))
        return {
            "states": {state.name.lower(): self.count(state) for state in State},
            "sheets": [_sheet(title, [row for row in self.rows if row.sheet == title]) for title in sheets],
            "faults": [vars(fault) for fault in self.faults[:SHOWN]],
            "more_faults": max(0, len(self.faults) - SHOWN),
        }


def _sheet(title: str, rows: Iterable[Outcome]) -> dict[str, Any]:
    rows = list(rows)
    counts = Counter(row.state.value for row in rows)
    told = [row for row in rows if row.state is not State.SAME]
    return {
        "title": title,
        "counts": [[state.value, counts[state.value]] for state in State if counts[state.value]],
        "rows": [
            {
                "row": row.row,
                "name": row.name,
                "state": row.state.value,
                "changes": [list(change) for change in row.changes],
                "words": row.words,
            }
            for row in told[:SHOWN]
        ],
        "more": max(0, len(told) - SHOWN),
    }
