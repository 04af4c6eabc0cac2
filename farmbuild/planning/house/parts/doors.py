"""Doors: leaves side by side in one opening in the middle of an end wall, each of uprights and rails.

The rows of the leaves stand with those of their end wall (``ends.py``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import SAW_STEP, HouseContext, SpecProblem
from farmbuild.planning.house.part import Part, WorkKind
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Kind, Material
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


def member_face(material: Material) -> Decimal:
    """How much of the wall one upright takes up: the thickness of lumber, the outside diameter of a tube."""
    size = material.thickness if material.kind is Kind.LUMBER else material.width
    return size or Decimal(0)


def leaves(house: HouseContext, doors: Doors) -> list[TakeoffRow]:
    """What the leaves of one framed end take."""
    if not doors.count:
        return []
    frame = house.spec.end_frame_material
    wide = house.materials[frame].width or Decimal(0)
    purpose = f"{doors.end} doors"
    n = doors.count
    rail = doors.width - 2 * wide
    uprights = f"2 uprights a door, {count_noun(n, 'door')}: 2 x {n} = {2 * n}, each {house.say(doors.height)}"
    rails = (
        f"3 rails a door, {count_noun(n, 'door')}: 3 x {n} = {3 * n}, each {house.say(doors.width)} less"
        f" 2 uprights of {house.say(wide)}: {house.say(rail)}"
    )
    return [
        house.pieces(purpose, frame, house.saw(doors.height), 2 * n, uprights),
        house.pieces(purpose, frame, house.saw(rail), 3 * n, rails),
    ]


def rows(house: HouseContext) -> list[TakeoffRow]:
    """What the doors of both ends take together: a latch each (common practice, no source)."""
    spec = house.spec
    framed = [doors for doors in doors_of(spec)[: spec.end_walls] if doors.count]
    if not (spec.door_latch_material and framed):
        return []
    total = sum(doors.count for doors in framed)
    ends = " + ".join(f"{count_noun(doors.count, 'door')} in the {doors.end} end" for doors in framed)
    working = f"{ends}, a latch for each: {total}"
    return [house.counted("door latches", spec.door_latch_material, total, working)]


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    end_walls = house.spec.end_walls
    for n, doors in enumerate(doors_of(house.spec), 1):
        if not doors.count:
            continue
        if n > end_walls:
            yield SpecProblem(
                f"{doors.end}_door_count",
                f"There are {doors.count} doors in the {doors.end} end, but {end_walls} framed end walls."
                f" Type at least {n} end walls or 0 doors.",
            )
        else:
            yield from _fits_wall(house, doors)


def _fits_wall(house: HouseContext, doors: Doors) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    material = house.materials[spec.end_frame_material]
    face = member_face(material)
    needed = doors.opening + 2 * face
    if needed >= spec.post_span:
        yield SpecProblem(
            f"{doors.end}_door_width",
            f"{doors.count} x {say(doors.width)} of door and 2 door posts of {say(face)} take {say(needed)}, and"
            f" the post span is {say(spec.post_span)}. Type narrower or fewer doors.",
        )
        return
    wide = material.width or Decimal(0)
    if doors.width <= 2 * wide:
        yield SpecProblem(
            f"{doors.end}_door_width",
            f"A door {say(doors.width)} wide has no room between its 2 uprights of {say(wide)}. Type a wider door.",
        )
    clear = house.shape.height_at(needed / 2)
    if doors.height + face > clear:
        # Rounded down to what is shown, so that typing it passes.
        step = SAW_STEP[house.units]
        highest = max(Decimal(0), (clear - face) // step * step)
        yield SpecProblem(
            f"{doors.end}_door_height",
            f"A door {say(doors.height)} high with its header of {say(face)} does not fit: the hoop is"
            f" {say(clear)} above the ground where the door post stands, {say(needed / 2)} from the middle."
            f" Type {say(highest)} or less, or a narrower door.",
        )


PART = Part(
    rows=rows,
    purposes={"front doors": (WorkKind.ENDS,), "back doors": (WorkKind.ENDS,), "door latches": (WorkKind.ENDS,)},
    fits=fits,
)
