"""Doors: leaves side by side in one opening in the middle of an end wall, each of uprights and rails."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import Work
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.inputs import Material
from farmbuild.planning.results import TakeoffRow


@dataclass(frozen=True)
class Doors:
    """The leaves of one end, all of one size; mm."""

    end: str
    count: int
    width: Decimal
    height: Decimal

    @property
    def opening(self) -> Decimal:
        return self.count * self.width


def doors_of(spec: HouseSpec) -> tuple[Doors, Doors]:
    """Those of the front end and of the back end, framed or not."""
    return (
        Doors("front", spec.front_door_count, spec.front_door_width, spec.front_door_height),
        Doors("back", spec.back_door_count, spec.back_door_width, spec.back_door_height),
    )


def leaves(work: Work, doors: Doors, material: Material) -> list[TakeoffRow]:
    """What the leaves of one end take."""
    if not doors.count:
        return []
    wide = material.width or Decimal(0)
    purpose = f"{doors.end} doors"
    n = doors.count
    rail = doors.width - 2 * wide
    return [
        work.pieces(
            purpose,
            work.spec.end_frame_material,
            work.saw(doors.height),
            2 * n,
            f"2 uprights a door, {count_noun(n, 'door')}: 2 x {n} = {2 * n}, each {work.say(doors.height)}",
        ),
        work.pieces(
            purpose,
            work.spec.end_frame_material,
            work.saw(rail),
            3 * n,
            f"3 rails a door, {count_noun(n, 'door')}: 3 x {n} = {3 * n}, each {work.say(doors.width)} less"
            f" 2 uprights of {work.say(wide)}: {work.say(rail)}",
        ),
    ]
