"""What other rooms of the cooperative show on the first page of a member; each adds its own once, when it is ready."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

from farmbuild.crew.models import Member


class Facts(Protocol):
    def __call__(self, *, member: Member, today: date) -> Mapping[str, Any] | None: ...


@dataclass(frozen=True)
class Panel:
    """``facts`` are of that member alone; None where there is nothing to show. ``costs``: it has amounts in it."""

    order: int
    template: str
    facts: Facts
    costs: bool = False


PANELS: list[Panel] = []


def panels_of(*, member: Member, today: date, sees_costs: bool) -> list[tuple[str, Mapping[str, Any]]]:
    """Templates, each with its facts, in order."""
    shown = sorted((panel for panel in PANELS if sees_costs or not panel.costs), key=lambda panel: panel.order)
    found = ((panel.template, panel.facts(member=member, today=today)) for panel in shown)
    return [(template, facts) for template, facts in found if facts is not None]
