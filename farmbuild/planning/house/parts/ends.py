"""End walls: sill, studs up to the hoop, door posts, headers and door leaves.

Doors stand side by side in one opening in the middle of the wall. Studs stand at the stud spacing out from
the middle line; one that would stand in the opening is cut short and stands on the header. Studs and door
posts reach the hoop's centreline, so that they can be fixed to its face. No stud stands where a ground post is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal

from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecContext
from farmbuild.planning.house.part import NONE, Part, PartWork, WorkKind
from farmbuild.planning.house.parts.doors import Doors, doors_of, leaves, member_face
from farmbuild.planning.house.parts.posts import foot_outside
from farmbuild.planning.house.shape import MICRO, HouseShape, ceil_ratio
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.results import TakeoffRow

#: A sill longer than this is made in equal pieces (our own choice: 12 ft).
LONGEST_SILL = Decimal("3657.6")
#: A short stud over a door is left out below this (our own choice: 4 in).
SHORTEST_STUD = Decimal("101.6")


@dataclass(frozen=True)
class EndWall:
    """One end wall in elevation; lengths in mm, x from the middle, heights above the ground.

    The sill reaches from the inside faces of the posts, each ``foot`` from the post's centre.
    """

    doors: Doors
    face: Decimal
    foot: Decimal
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
    return [(run / parts).quantize(MICRO, ROUND_DOWN)] * parts


def _wall(spec: HouseSpec, shape: HouseShape, face: Decimal, foot: Decimal, doors: Doors) -> EndWall:
    half = shape.span / 2
    opening = doors.opening
    posts: list[tuple[Decimal, Decimal]] = []
    if doors.count:
        at = opening / 2 + face / 2
        posts = [(x, shape.height_at(at)) for x in (-at, at)]
        sills = _sill(half - foot - opening / 2 - face) * 2
    else:
        sills = _sill(shape.span - 2 * foot)
    full: list[tuple[Decimal, Decimal]] = []
    short: list[tuple[Decimal, Decimal]] = []
    steps = ceil_ratio(half, spec.end_stud_spacing) - 1
    for k in range(-steps, steps + 1):
        x = spec.end_stud_spacing * k
        if doors.count and abs(x) < opening / 2:
            length = shape.height_at(x) - doors.height - face
            if length >= SHORTEST_STUD:
                short.append((x, length))
        elif abs(x) + face / 2 <= half - foot and (not doors.count or abs(x) >= opening / 2 + 2 * face):
            length = shape.height_at(x) - face
            if length >= SHORTEST_STUD:
                full.append((x, length))
    return EndWall(
        doors=doors,
        face=face,
        foot=foot,
        sills=tuple(sills),
        studs=tuple(full),
        short_studs=tuple(short),
        door_posts=tuple(posts),
        header=opening if doors.count else Decimal(0),
    )


def walls(house: HouseContext) -> list[EndWall]:
    """The framed walls: the front first, then the back."""
    spec = house.spec
    if not (spec.end_walls and spec.end_frame_material):
        return []
    face = member_face(house.materials[spec.end_frame_material])
    foot = (foot_outside(house) or Decimal(0)) / 2
    return [_wall(spec, house.shape, face, foot, doors) for doors in doors_of(spec)[: spec.end_walls]]


def rows(house: HouseContext) -> list[TakeoffRow]:
    """Of each wall, and after it of the door leaves in it."""
    found: list[TakeoffRow] = []
    for wall in walls(house):
        found += [*_of_wall(house, wall), *leaves(house, wall.doors)]
    return found


def _of_wall(house: HouseContext, wall: EndWall) -> Iterator[TakeoffRow]:
    spec, doors = house.spec, wall.doors
    spacing, face = house.say(spec.end_stud_spacing), house.say(wall.face)
    inside = (
        sentence(
            "a post span of %(post_span)s less half of a post of %(foot)s at each side",
            post_span=house.say(spec.post_span),
            foot=house.say(2 * wall.foot),
        )
        if wall.foot
        else sentence(
            "a post span of %(post_span)s, centre to centre as the post has no width in the catalogue",
            post_span=house.say(spec.post_span),
        )
    )
    sill = sentence("sill between the posts, %(inside)s", inside=inside)
    if doors.count:
        sill = sentence(
            "sill from the ground posts to the door posts, %(inside)s, and less the opening of "
            "%(count)s x %(width)s and 2 door posts of %(face)s",
            inside=inside,
            count=doors.count,
            width=house.say(doors.width),
            face=face,
        )
    yield from _grouped(house, wall, wall.sills, sill)
    yield from _grouped(
        house,
        wall,
        [length for _, length in wall.studs],
        sentence(
            "studs every %(spacing)s from the middle, from the sill up to the hoop at their place", spacing=spacing
        ),
    )
    yield from _grouped(
        house,
        wall,
        [length for _, length in wall.door_posts],
        sentence("door posts, one each side of the opening, from the ground up to the hoop at their place"),
    )
    if wall.header:
        header = sentence(
            "header between the door posts, %(count)s x %(width)s", count=doors.count, width=house.say(doors.width)
        )
        yield from _grouped(house, wall, [wall.header], header)
    yield from _grouped(
        house,
        wall,
        [length for _, length in wall.short_studs],
        sentence("short studs every %(spacing)s from the header up to the hoop", spacing=spacing),
    )


def _grouped(house: HouseContext, wall: EndWall, lengths: Iterable[Decimal], what: str) -> Iterator[TakeoffRow]:
    counts = Counter(lengths)
    for length, count in sorted(counts.items(), reverse=True):
        working = sentence("%(what)s: %(count)s of %(length)s", what=what, count=count, length=house.say(length))
        yield house.pieces(f"{wall.name} end wall", house.spec.end_frame_material, length, count, working)


def _ends(house: HouseContext) -> tuple[int, str]:
    totals: Counter[str] = Counter()
    for row in rows(house):
        totals[row.purpose] += row.quantity
    if not totals:
        return 0, sentence("The house has no framed end walls.")
    words = joined(
        " + ",
        (
            sentence("%(count)s in the %(purpose)s", count=count, purpose=sentence(purpose))
            for purpose, count in totals.items()
        ),
    )
    return totals.total(), sentence("%(words)s = %(total)s", words=words, total=totals.total())


def _said(house: SpecContext) -> str:
    """2 framed walls: 2x4, studs every 24"; front door 36" x 80\""""
    spec, found = house.spec, []
    if spec.end_walls:
        studs = (
            sentence(", studs every %(end_stud_spacing)s", end_stud_spacing=house.say(spec.end_stud_spacing))
            if spec.end_stud_spacing
            else ""
        )
        frame = house.name_of(spec.end_frame_material) or "no frame chosen"
        found.append(
            sentence(
                "%(framed_walls)s: %(frame)s%(studs)s",
                framed_walls=count_noun(spec.end_walls, "framed wall"),
                frame=frame,
                studs=studs,
            )
        )
    for doors in doors_of(spec):
        if doors.count:
            size = (
                sentence(" %(width)s x %(height)s", width=house.say(doors.width), height=house.say(doors.height))
                if doors.width and doors.height
                else ""
            )
            found.append(sentence("%(doors)s%(size)s", doors=count_noun(doors.count, f"{doors.end} door"), size=size))
    return joined("; ", found) or NONE


PART = Part(
    rows=rows,
    purposes=dict.fromkeys(("front end wall", "back end wall"), (WorkKind.SAW, WorkKind.ENDS)),
    works=(PartWork(WorkKind.ENDS, (_("piece of frame"), _("pieces of frame")), _ends),),
    said={"End walls and doors": _said},
)
