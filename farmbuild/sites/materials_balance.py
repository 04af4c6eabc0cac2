"""Where the materials of a house are, as the rooms above say."""

from __future__ import annotations

from dataclasses import dataclass

from farmbuild.sites.models import House
from farmbuild.sites.signals import asking_materials_balance


@dataclass(frozen=True)
class MaterialsBalance:
    """Pieces of all materials: needed = in the house + held + on order + still to find; runs stand at ``url`` alone.

    ``short``: rows of which something is still to find, runs among them; ``too_much``: those with more than is needed.
    """

    needed: int
    in_house: int
    held: int
    on_order: int
    to_find: int
    short: int
    too_much: int
    url: str


def materials_balance_of(*, house: House) -> MaterialsBalance | None:
    """None for a house that cannot be built as it is specified."""
    answers = asking_materials_balance.send(House, house=house)
    return next((answer for _, answer in answers if answer is not None), None)
