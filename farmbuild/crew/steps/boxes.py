"""Boxes of the forms in which each kind of work has a row of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from farmbuild.crew.models import Kind


def box(kind: str, name: str, at: int | None = None) -> str:
    return f"{kind}_{name}" if at is None else f"{kind}_{name}{at}"


@dataclass(frozen=True)
class Box:
    """The step stands above it, so its own label is short; the field's label names the step for lists of mistakes."""

    short: str
    field: Any


def labels(kind: str, short: str) -> dict[str, Any]:
    return {"label": f"{Kind(kind).label}, {short[:1].lower()}{short[1:]}"}
