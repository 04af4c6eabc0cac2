"""End walls: sill, studs up to the hoop, door posts, headers and door leaves.

Doors stand side by side in one opening in the middle of the wall. Studs stand at the stud spacing out from
the middle line; one that would stand in the opening is cut short and stands on the header. Studs and door
posts reach the hoop's centreline, so that they can be fixed to its face.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.planning.house.context import Work
from farmbuild.planning.house.parts.doors import Doors, doors_of, leaves
from farmbuild.planning.house.shape import HouseShape, ceil_ratio
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.inputs import Kind, Material
from farmbuild.planning.results import TakeoffRow

#: A sill longer than this is made in equal pieces (our own choice: 12 ft).
LONGEST_SILL = Decimal("3657.6")
#: A short stud over a door is left out below this (our own choice: 4 in).
SHORTEST_STUD = Decimal("101.6")


def member_face(material: Material) -> Decimal:
    """How much of the wall one upright takes up: the thickness of lumber, the outside diameter of a tube."""
    size = material.thickness if material.kind is Kind.LUMBER else material.width
    return size or Decimal(0)


@dataclass(frozen=True)
class EndWall:
    """One end wall in elevation; lengths in mm, x from the middle, heights above the ground."""

    doors: Doors
    face: Decimal
    sills: tuple[Decimal, ...]
    #: (x, length) of each full stud, short stud over the doors, and door post.
    studs: tuple[tuple[Decimal, Decimal], ...]
    short_studs: tuple[tuple[Decimal, Decimal], ...]
    door_posts: tuple[tuple[Decimal, Decimal], ...]
    header: Decimal

    @property
    def name(self) -> str:
        """Front or back."""
        return self.doors.end

    @property
    def opening(self) -> Decimal:
        return self.doors.opening


def _sill(run: Decimal) -> list[Decimal]:
    parts = ceil_ratio(run, LONGEST_SILL)
    return [run / parts] * parts


def end_wall(spec: HouseSpec, shape: HouseShape, material: Material, doors: Doors) -> EndWall:
    """Lay out one end wall of a house that passes ``check_spec``."""
    face = member_face(material)
    half = shape.span / 2
    opening = doors.opening
    posts: list[tuple[Decimal, Decimal]] = []
    if doors.count:
        at = opening / 2 + face / 2
        posts = [(x, shape.height_at(at)) for x in (-at, at)]
        sills = _sill(half - opening / 2 - face) * 2
    else:
        sills = _sill(shape.span)
    full: list[tuple[Decimal, Decimal]] = []
    short: list[tuple[Decimal, Decimal]] = []
    steps = ceil_ratio(half, spec.end_stud_spacing) - 1
    for k in range(-steps, steps + 1):
        x = spec.end_stud_spacing * k
        if doors.count and abs(x) < opening / 2:
            length = shape.height_at(x) - doors.height - face
            if length >= SHORTEST_STUD:
                short.append((x, length))
        elif not doors.count or abs(x) >= opening / 2 + 2 * face:
            length = shape.height_at(x) - face
            if length >= SHORTEST_STUD:
                full.append((x, length))
    return EndWall(
        doors=doors,
        face=face,
        sills=tuple(sills),
        studs=tuple(full),
        short_studs=tuple(short),
        door_posts=tuple(posts),
        header=opening if doors.count else Decimal(0),
    )


def end_walls(spec: HouseSpec, shape: HouseShape, material: Material) -> list[EndWall]:
    """The framed walls: the front first, then the back."""
    return [end_wall(spec, shape, material, doors) for doors in doors_of(spec)[: spec.end_walls]]


def _grouped(work: Work, purpose: str, lengths: list[Decimal], what: str) -> list[TakeoffRow]:
    rows = []
    counts = Counter(work.saw(length) for length in lengths)
    for length, count in sorted(counts.items(), reverse=True):
        working = f"{what}: {count} of {work.say(length)}"
        rows.append(work.pieces(purpose, work.spec.end_frame_material, length, count, working))
    return rows


def end_frames(work: Work) -> list[TakeoffRow]:
    spec = work.spec
    if not (spec.end_walls and spec.end_frame_material):
        return []
    material = work.materials[spec.end_frame_material]
    rows: list[TakeoffRow] = []
    for wall in end_walls(spec, work.shape, material):
        purpose = f"{wall.name} end wall"
        spacing = work.say(spec.end_stud_spacing)
        if wall.doors.count:
            gap = (
                f"sill from the ground posts to the door posts, {work.say(spec.post_span)} less the"
                " opening of"
                f" {wall.doors.count} x {work.say(wall.doors.width)} and 2 door posts of"
                f" {work.say(wall.face)}"
            )
        else:
            gap = f"sill over the post span of {work.say(spec.post_span)}"
        rows += _grouped(work, purpose, list(wall.sills), gap)
        rows += _grouped(
            work,
            purpose,
            [length for _, length in wall.studs],
            f"studs every {spacing} from the middle, from the sill up to the hoop at their place",
        )
        rows += _grouped(
            work,
            purpose,
            [length for _, length in wall.door_posts],
            "door posts, one each side of the opening, from the ground up to the hoop at their place",
        )
        if wall.header:
            rows += _grouped(
                work,
                purpose,
                [wall.header],
                f"header between the door posts, {wall.doors.count} x {work.say(wall.doors.width)}",
            )
        rows += _grouped(
            work,
            purpose,
            [length for _, length in wall.short_studs],
            f"short studs every {spacing} from the header up to the hoop",
        )
        rows += leaves(work, wall.doors, material)
    return rows
