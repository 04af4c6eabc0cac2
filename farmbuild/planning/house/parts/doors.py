"""Doors: leaves side by side in one opening in the middle of an end wall, each of uprights and rails.

A leaf is smaller than its share of the opening, by the clearance at each of its four edges. The rows of the leaves
stand with those of their end wall (``ends.py``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import TAPE_STEP, count_noun
from farmbuild.measure.speech import joined, sentence
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
    less = sentence(" less 2 x %(clearance)s of clearance", clearance=say(doors.clearance))
    uprights = sentence(
        "2 uprights a door, %(doors)s: 2 x %(n)s = %(n_2)s, each %(height)s%(less)s",
        doors=count_noun(n, "door"),
        n=n,
        n_2=2 * n,
        height=say(doors.height),
        less=less,
    )
    rails = sentence(
        "3 rails a door, %(doors)s: 3 x %(n)s = %(n_2)s, each %(width)s%(less)s and 2 uprights of %(wide)s: %(rail)s",
        doors=count_noun(n, "door"),
        n=n,
        n_2=3 * n,
        width=say(doors.width),
        less=less,
        wide=say(wide),
        rail=say(rail),
    )
    return [
        house.pieces(
            purpose,
            frame,
            doors.leaf_height,
            2 * n,
            sentence("%(uprights)s: %(leaf_height)s", uprights=uprights, leaf_height=say(doors.leaf_height)),
        ),
        house.pieces(purpose, frame, rail, 3 * n, rails),
    ]


def rows(house: HouseContext) -> list[TakeoffRow]:
    """What the doors of both ends take together: a latch each (common practice, no source)."""
    spec = house.spec
    framed = framed_doors(spec)
    if not (spec.door_latch_material and framed):
        return []
    total = sum(doors.count for doors in framed)
    ends = joined(
        " + ",
        (
            sentence("%(doors)s in the %(end)s end", doors=count_noun(doors.count, "door"), end=sentence(doors.end))
            for doors in framed
        ),
    )
    working = sentence("%(ends)s, a latch for each: %(total)s", ends=ends, total=total)
    return [house.counted("door latches", spec.door_latch_material, total, working)]


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    end_walls = house.spec.end_walls
    for n, doors in enumerate(doors_of(house.spec), 1):
        if not doors.count:
            continue
        if n > end_walls:
            yield SpecProblem(
                f"{doors.end}_door_count",
                sentence(
                    "There are %(count)s doors in the %(end)s end, but %(end_walls)s framed end walls. Type "
                    "at least %(n)s end walls or 0 doors.",
                    count=doors.count,
                    end=doors.end,
                    end_walls=end_walls,
                    n=n,
                ),
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
            sentence(
                "%(count)s x %(width)s of door and 2 door posts of %(face)s take %(needed)s, and a post "
                "span of %(post_span)s leaves %(free)s between the posts. Type narrower or fewer doors.",
                count=doors.count,
                width=say(doors.width),
                face=say(face),
                needed=say(needed),
                post_span=say(spec.post_span),
                free=say(free),
            ),
        )
        return
    wide = material.width or Decimal(0)
    if doors.width <= 2 * wide:
        yield SpecProblem(
            f"{doors.end}_door_width",
            sentence(
                "A door %(width)s wide has no room between its 2 uprights of %(wide)s. Type a wider door.",
                width=say(doors.width),
                wide=say(wide),
            ),
        )
    elif doors.leaf_width <= 2 * wide or doors.leaf_height <= 3 * wide < doors.height:
        yield SpecProblem(
            "door_clearance",
            sentence(
                "A clearance of %(clearance)s at each edge leaves no door of %(width)s x %(height)s with "
                "its uprights and rails of %(wide)s. Type less.",
                clearance=say(doors.clearance),
                width=say(doors.width),
                height=say(doors.height),
                wide=say(wide),
            ),
        )
    clear = house.shape.height_at(needed / 2)
    if doors.height + face > clear:
        # Rounded down to what is shown, so that typing it passes.
        step = TAPE_STEP[house.units]
        highest = max(Decimal(0), (clear - face) // step * step)
        yield SpecProblem(
            f"{doors.end}_door_height",
            sentence(
                "A door %(height)s high with its header of %(face)s does not fit: the hoop is %(clear)s "
                "above the ground where the door post stands, %(needed)s from the middle. Type "
                "%(highest)s or less, or a narrower door.",
                height=say(doors.height),
                face=say(face),
                clear=say(clear),
                needed=say(needed / 2),
                highest=say(highest),
            ),
        )


PART = Part(
    rows=rows,
    purposes={
        **dict.fromkeys(("front doors", "back doors"), (WorkKind.SAW, WorkKind.ENDS)),
        "door latches": (WorkKind.ENDS,),
    },
    fits=fits,
)
