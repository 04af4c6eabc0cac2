"""Tasks and resources to and from JSON values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from farmbuild.planning.scheduling.inputs import After, Need, Placed, Resource, Resources, Task, Way, Window


def pack_work(tasks: Sequence[Task], resources: Resources) -> dict[str, Any]:
    """As JSON values; ``work_from`` gives the same back."""
    return {
        "tasks": [asdict(task) for task in tasks],
        "resources": [asdict(resource) for resource in resources.resources],
        "travel": [[one, other, slots] for (one, other), slots in sorted(resources.travel.items())],
        "travel_else": resources.travel_else,
    }


def work_from(packed: dict[str, Any]) -> tuple[tuple[Task, ...], Resources]:
    resources = Resources(
        resources=tuple(
            Resource(
                **row | {"windows": None if row["windows"] is None else tuple(Window(**w) for w in row["windows"])}
            )
            for row in packed["resources"]
        ),
        travel={(one, other): slots for one, other, slots in packed["travel"]},
        travel_else=packed["travel_else"],
    )
    return tuple(_task_from(row) for row in packed["tasks"]), resources


def _task_from(row: dict[str, Any]) -> Task:
    ways = tuple(Way(tuple(Need(**need) for need in way["needs"]), way["duration"]) for way in row["ways"])
    placed = {name: row[name] and Placed(**row[name]) for name in ("fixed", "published")}
    return Task(**row | placed | {"ways": ways, "after": tuple(After(**after) for after in row["after"])})
