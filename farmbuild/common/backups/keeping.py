"""Which of the backups in a folder stay: by day, then by week, then by month."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

DAYS, WEEKS, MONTHS = 7, 5, 12
_NAMED = re.compile(r"farmbuild-(\d{4}-\d{2}-\d{2}-\d{6})\.zip")
_WRITTEN = "%Y-%m-%d-%H%M%S"


def name_at(moment: datetime) -> str:
    return f"farmbuild-{moment.astimezone(UTC):{_WRITTEN}}.zip"


def too_many(names: Iterable[str]) -> list[str]:
    """The newest of each of the last seven days, five weeks and twelve months that have one stay; these may go.

    What is named otherwise is somebody else's and is not looked at.
    """
    made = {}
    for name in names:
        if found := _NAMED.fullmatch(name):
            made[name] = datetime.strptime(found[1], _WRITTEN).replace(tzinfo=UTC)
    newest_first = sorted(made, key=lambda name: made[name], reverse=True)
    stay: set[str] = set()
    for written, number in (("%Y-%m-%d", DAYS), ("%G-%V", WEEKS), ("%Y-%m", MONTHS)):
        newest: dict[str, str] = {}
        for name in newest_first:
            newest.setdefault(made[name].strftime(written), name)
        stay.update(list(newest.values())[:number])
    return [name for name in newest_first if name not in stay]


def tidy(folder: Path) -> list[str]:
    """Remove those that may go; their names."""
    gone = too_many(path.name for path in folder.iterdir())
    for name in gone:
        (folder / name).unlink(missing_ok=True)
    return gone
