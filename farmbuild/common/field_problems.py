"""How problems are gathered by field."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class FieldProblems:
    """Messages by field, as they are found."""

    found: dict[str, list[str]]

    def add(self, field: str, message: str) -> None:
        self.found.setdefault(field, []).append(message)
