"""How far the plans of houses are, as the rooms above say."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.sites.signals import asking_phases


@dataclass(frozen=True)
class PlanPhase:
    """The plan of a house, its page, and the word for how far it is."""

    plan: str
    url: str
    phase: str


def phases_of(*, organisation: Organisation, houses: Collection[int]) -> dict[int, PlanPhase]:
    """By the key of the house; houses that no plan was made for are left out."""
    found: dict[int, PlanPhase] = {}
    for _, answer in asking_phases.send(House, organisation=organisation, houses=houses):
        found |= answer
    return found
