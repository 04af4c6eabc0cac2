"""Published schedules to check against, and how they are read."""

from __future__ import annotations

import csv
from pathlib import Path

from farmbuild.planning.scheduling.inputs import After, Need, Resource, Resources, Task, Way
from tests.where import OPEN_DATA

DATA = OPEN_DATA / "scheduling"


def read_sm(text: str) -> tuple[list[Task], Resources]:
    """A single-mode project in the form of PSPLIB (Kolisch, Sprecher, Eur. J. Operational Research 96, 1997)."""
    lines = text.splitlines()
    waits: dict[int, list[int]] = {}
    at = next(k for k, line in enumerate(lines) if line.startswith("PRECEDENCE RELATIONS"))
    for line in lines[at + 2 :]:
        if line.startswith("*"):
            break
        number, _, _, *following = map(int, line.split())
        waits.setdefault(number, [])
        for after in following:
            waits.setdefault(after, []).append(number)
    at = next(k for k, line in enumerate(lines) if line.startswith("REQUESTS/DURATIONS"))
    rows = []
    for line in lines[at + 3 :]:
        if line.startswith("*"):
            break
        rows.append(list(map(int, line.split())))
    at = next(k for k, line in enumerate(lines) if line.startswith("RESOURCEAVAILABILITIES"))
    capacities = list(map(int, lines[at + 2].split()))
    resources = tuple(Resource(f"R{k}", capacity) for k, capacity in enumerate(capacities, 1))
    tasks = [
        Task(
            str(number),
            (Way(tuple(Need(f"R{k}", amount) for k, amount in enumerate(amounts, 1) if amount), duration),),
            tuple(After(str(before)) for before in waits[number]),
        )
        for number, _, duration, *amounts in rows
    ]
    return tasks, Resources(resources)


def published() -> list[tuple[str, list[Task], Resources, int]]:
    """Name, project and proven least makespan of each; empty without the open data."""
    return projects_in(DATA, "optimum.csv", "optimal_makespan")


def projects_in(folder: Path, table: str, makespan: str) -> list[tuple[str, list[Task], Resources, int]]:
    """Name and project of each that the table in the folder names, and the makespan in its column of that name."""
    if not (folder / table).exists():
        return []
    with (folder / table).open() as rows:
        named = [(row["instance"], int(row[makespan])) for row in csv.DictReader(rows)]
    return [(name, *read_sm((folder / name).read_text()), least) for name, least in named]
