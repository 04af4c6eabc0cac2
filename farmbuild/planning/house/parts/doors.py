"""Doors: leaves side by side in one opening in the middle of an end wall, each of uprights and rails.

A leaf is smaller than its share of the opening, by the clearance at each of its four edges. The rows of the leaves
stand with those of their end wall (``ends.py``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import TAPE_STEP, count_noun
from farmbuild.planning.house.context import HouseContext, SpecProblem
from farmbuild.planning.house.part import Part, WorkKind
from farmbuild.planning.house.parts.posts import foot_outside
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.results import TakeoffRow


@dataclass(frozen=True)
class Doors:
    """The leaves of one end, all of one size; mm. ``width`` and ``height`` are each leaf's share of the opening."""

    end: str
    count: int
    width: Decimal
    height: Decimal
    clearance: Decimal

    @property
    def opening(self) -> Decimal:
        return self.count * self.width

    @property
    def leaf_width(self) -> Decimal:
        return self.width - 2 * self.clearance

    @property
    def leaf_height(self) -> Decimal:
        return self.height - 2 * self.clearance


def doors_of(spec: HouseSpec) -> tuple[Doors, Doors]:
    """Those of the front end and of the back end, framed or not."""
    gap = spec.door_clearance
    return (
        Doors("front", spec.front_door_count, spec.front_door_width, spec.front_door_height, gap),
        Doors("back", spec.back_door_count, spec.back_door_width, spec.back_door_height, gap),
    )


def framed_doors(spec: HouseSpec) -> list[Doors]:
    """Of the framed ends that have any: only these are built."""
    return [doors for doors in doors_of(spec)[: spec.end_walls] if doors.count]


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
    n, say = doors.count, house.say
    rail = doors.leaf_width - 2 * wide
    less = f" less 2 x {say(doors.clearance)} of clearance"
    uprights = f"2 uprights a door, {count_noun(n, 'door')}: 2 x {n} = {2 * n}, each {say(doors.height)}{less}"
    rails = (
        f"3 rails a door, {count_noun(n, 'door')}: 3 x {n} = {3 * n}, each {say(doors.width)}{less} and"
        f" 2 uprights of {say(wide)}: {say(rail)}"
    )
    return [
        house.pieces(purpose, frame, doors.leaf_height, 2 * n, f"{uprights}: {say(doors.leaf_height)}"),
        house.pieces(purpose, frame, rail, 3 * n, rails),
    ]


def rows(house: HouseContext) -> list[TakeoffRow]:
    """What the doors of both ends take together: a latch each (common practice, no source)."""
    spec = house.spec
    framed = framed_doors(spec)
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
    free = spec.post_span - (foot_outside(house) or Decimal(0))
    if needed >= free:
        yield SpecProblem(
            f"{doors.end}_door_width",
            f"{doors.count} x {say(doors.width)} of door and 2 door posts of {say(face)} take {say(needed)}, and"
            f" a post span of {say(spec.post_span)} leaves {say(free)} between the posts."
            " Type narrower or fewer doors.",
        )
        return
    wide = material.width or Decimal(0)
    if doors.width <= 2 * wide:
        yield SpecProblem(
            f"{doors.end}_door_width",
            f"A door {say(doors.width)} wide has no room between its 2 uprights of {say(wide)}. Type a wider door.",
        )
    elif doors.leaf_width <= 2 * wide or doors.leaf_height <= 3 * wide < doors.height:
        yield SpecProblem(
            "door_clearance",
            f"A clearance of {say(doors.clearance)} at each edge leaves no door of {say(doors.width)} x"
            f" {say(doors.height)} with its uprights and rails of {say(wide)}. Type less.",
        )
    clear = house.shape.height_at(needed / 2)
    if doors.height + face > clear:
        # Rounded down to what is shown, so that typing it passes.
        step = TAPE_STEP[house.units]
        highest = max(Decimal(0), (clear - face) // step * step)
        yield SpecProblem(
            f"{doors.end}_door_height",
            f"A door {say(doors.height)} high with its header of {say(face)} does not fit: the hoop is"
            f" {say(clear)} above the ground where the door post stands, {say(needed / 2)} from the middle."
            f" Type {say(highest)} or less, or a narrower door.",
        )


PART = Part(
    rows=rows,
    purposes={
        **dict.fromkeys(("front doors", "back doors"), (WorkKind.SAW, WorkKind.ENDS)),
        "door latches": (WorkKind.ENDS,),
    },
    fits=fits,
)
