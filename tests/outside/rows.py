"""The take-off of a house worked out a second time, from what was typed and the rules in words.

Shares no code with the application: plain fractions, and trigonometry in floats. Every part says its rule; those that
have no published source say so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from tests.outside.arc import Arc, set_over
from tests.outside.typed import IMPERIAL, INCH, METRIC, bare_unit, length, lengths, yes

#: A sill longer than this is made in equal pieces, and a stud shorter than that is left out (own choices).
LONGEST_SILL, SHORTEST_STUD = 144 * INCH, 4 * INCH
#: Around a door leaf where nothing is typed (common practice, no source).
DOOR_CLEARANCE = {IMPERIAL: INCH / 4, METRIC: Fraction(6)}
#: Fields whose bare numbers are feet or metres.
LONG = frozenset(
    {
        "post_span",
        "length",
        "spacing_wanted",
        "stick_length",
        "purlin_stick_length",
        "purlin_first_stick",
        "curtain_pipe_stick_length",
        "hip_board_lengths",
        "base_board_lengths",
    }
)
Typed = Mapping[str, str]


@dataclass(frozen=True)
class Row:
    """``length`` in mm, None for what is counted. ``whole`` sticks are not cut but at the end of a run."""

    purpose: str
    material: str
    length: Fraction | float | None
    quantity: int
    whole: bool = False
    trim: Fraction = Fraction(0)
    trims: int = 0
    #: Of joined pipe: so many runs, how long each is, and how far a stick slides into the next.
    runs: int = 0
    run: Fraction = Fraction(0)
    slide: Fraction = Fraction(0)


@dataclass(frozen=True)
class Stuff:
    """A material as typed into the workbook."""

    kind: str
    width: Fraction | None = None
    thickness: Fraction | None = None

    @property
    def upright(self) -> Fraction:
        """What one upright takes of the wall: a board its thickness, a tube its diameter. None known: nothing."""
        return (self.thickness if self.kind == "lumber" else self.width) or Fraction(0)

    @property
    def across(self) -> Fraction:
        return self.width or Fraction(0)


def stuff(row: Typed, units: str) -> Stuff:
    def size(name: str) -> Fraction | None:
        return length(row[name], bare_unit(units, small=True)) if row.get(name) else None

    return Stuff(row["kind"], size("width"), size("thickness"))


@dataclass(frozen=True)
class House:
    """What was typed of a house, of its recipe and of its materials, and the shape that follows."""

    typed: Typed
    recipe: Typed
    stuff: Mapping[str, Stuff]
    units: str
    #: Rows of its own, as typed.
    own: Sequence[Typed] = ()
    #: Whole sticks that a plan takes for the runs of each purpose, where these are not of the length typed.
    joined: Mapping[str, int] = field(default_factory=dict)

    def text(self, name: str) -> str:
        return str(self.typed.get(name, ""))

    def size(self, name: str) -> Fraction:
        """A length of the house; nothing typed is none."""
        return length(self.text(name), self.unit(name)) if self.text(name) else Fraction(0)

    def unit(self, name: str) -> str:
        return bare_unit(self.units, small=name not in LONG)

    def count(self, name: str, usual: int = 0) -> int:
        return int(self.text(name) or usual)

    def of_recipe(self, name: str) -> Fraction:
        typed = str(self.recipe.get(name, ""))
        return length(typed, self.unit(name)) if typed else Fraction(0)

    @property
    def bays(self) -> int:
        """The fewest equal bays no longer than the spacing wanted."""
        return math.ceil(self.size("length") / self.size("spacing_wanted"))

    @property
    def hoops(self) -> int:
        return self.bays + 1

    @property
    def sticks(self) -> int:
        return int(self.recipe["sticks"])

    @property
    def sleeve(self) -> Fraction:
        """Length of the sleeve at each joint of a hoop; 0 where a swage slides in."""
        return self.of_recipe("sleeve_length") if is_sleeve(self.recipe.get("joint")) else Fraction(0)

    @property
    def pipe(self) -> Fraction:
        """Along the hoop: its sticks, less what slides into the next at each joint."""
        return self.sticks * self.of_recipe("stick_length") - (self.sticks - 1) * self.of_recipe("insertion")

    @property
    def arc(self) -> Arc:
        return set_over(float(self.pipe), float(self.size("post_span")))

    @property
    def inside(self) -> Fraction:
        """From the middle to the face of the post, or of the hoop where there is none."""
        return self.size("post_span") / 2 - self.stuff[self.text("post_material") or self.recipe["tube"]].across / 2

    @property
    def foot(self) -> Fraction:
        """Above the ground, where the ends of the hoop are: the socket is as deep below the top of the post."""
        if not self.text("post_material"):
            return Fraction(0)
        return self.size("post_length") - self.size("post_depth") - self.size("post_socket_depth")

    def above(self, x: Fraction) -> float:
        """Of the hoop's centreline over the ground."""
        return float(self.foot) + self.arc.height(float(x))


def is_sleeve(joint: str | None) -> bool:
    return (joint or "") in ("inner sleeve", "outer sleeve")


def main_rows(house: House) -> list[Row]:
    """All but fittings and own rows, in any order; equal ones may come apart. Lengths are exact."""
    return [row for part in PARTS for row in part(house) if row.quantity]


def _hoops(house: House) -> Iterator[Row]:
    """Whole sticks, so many a hoop."""
    yield Row("hoops", house.recipe["tube"], house.of_recipe("stick_length"), house.hoops * house.sticks, True)
    if house.sleeve and house.sticks > 1:  # One of its tube at each joint, cut to length.
        count = house.hoops * (house.sticks - 1)
        yield Row("hoop sleeves", house.recipe["sleeve_material"], house.sleeve, count)


def _posts(house: House) -> Iterator[Row]:
    """Two a hoop, and a stop in each where the post is not crimped."""
    if house.text("post_material"):
        yield Row("ground posts", house.text("post_material"), house.size("post_length"), 2 * house.hoops)
        if house.text("post_stop_material"):
            yield Row("hoop stops", house.text("post_stop_material"), None, 2 * house.hoops, True)


def run_of_sticks(run: Fraction, stick: Fraction, slide: Fraction) -> int:
    """Sticks that make a run: one after the other until it is long enough."""
    sticks, made = 1, stick
    while made < run:
        sticks, made = sticks + 1, made + stick - slide
    return sticks


def runs_of_pipe(purpose: str, tube: str, run: Fraction, stick: Fraction, slide: Fraction, count: int) -> Row:
    """Each run one piece of one stick, or whole sticks joined, of which the last is sawn to length."""
    sticks = run_of_sticks(run, stick, slide)
    if sticks == 1:
        return Row(purpose, tube, run, count)
    over = sticks * stick - (sticks - 1) * slide - run
    return Row(purpose, tube, stick, sticks * count, True, over, count if over else 0, count, run, slide)


def _purlins(house: House) -> Iterator[Row]:
    """Runs the length of the house."""
    if not house.text("purlin_material"):
        return
    run, stick, slide = (house.size(f) for f in ("length", "purlin_stick_length", "purlin_insertion"))
    tube, first = house.text("purlin_material"), house.size("purlin_first_stick")
    for purpose, count in purlins_by_kind(house).items():
        if count and purpose == "staggered purlins":
            yield runs_of_pipe(purpose, tube, run - first, stick, slide, count)
            yield Row("first sticks of purlins", tube, first, count)
        elif count:
            yield runs_of_pipe(purpose, tube, run, stick, slide, count)
    if is_sleeve(house.text("purlin_joint")):
        yield Row(
            "purlin sleeves",
            house.text("purlin_sleeve_material"),
            house.size("purlin_sleeve_length"),
            purlin_joints(house),
        )


def split(run: Fraction, bays: int, boards: list[Fraction]) -> list[tuple[int, Fraction]]:
    """A run of boards spliced on hoops only: (bays, stick) of each board.

    Least length bought, then fewest boards, then the longest first. All ways are looked at, longest board first.
    """
    bay = run / bays
    stick = {n: min((b for b in boards if b >= n * bay), default=None) for n in range(1, bays + 1)}
    reach = max(n for n in stick if stick[n] is not None)
    best: dict[tuple[int, int], tuple[Fraction, int, tuple[int, ...]] | None] = {}

    def least(left: int, most: int) -> tuple[Fraction, int, tuple[int, ...]] | None:
        """Boards of at most ``most`` bays over ``left``; of ways that are equal the first in the order of words."""
        if not left:
            return Fraction(0), 0, ()
        if (left, most) not in best:
            found = None
            for n in range(min(left, most), 0, -1):
                rest = least(left - n, n)
                if rest is not None:
                    way = (rest[0] + stick[n], rest[1] + 1, (n, *rest[2]))
                    if found is None or way[:2] < found[:2]:
                        found = way
            best[left, most] = found
        return best[left, most]

    for left in range(bays):
        least(left, reach)  # From the short end, so that a long house does not go too deep.
    return [(n, stick[n]) for n in least(bays, reach)[2]]


def _boards(house: House) -> Iterator[Row]:
    """Rows on each side, spliced on hoops only."""
    for height in ("hip", "base"):
        material, a_side = house.text(f"{height}_board_material"), house.count(f"{height}_board_rows")
        if not (material and a_side):
            continue
        bought = lengths(house.text(f"{height}_board_lengths"), house.unit(f"{height}_board_lengths"))
        for bays, _ in split(house.size("length"), house.bays, bought):
            yield Row(f"{height} boards", material, house.size("length") * bays / house.bays, 2 * a_side)


@dataclass(frozen=True)
class Doors:
    end: str
    count: int
    width: Fraction
    height: Fraction
    clearance: Fraction

    @property
    def opening(self) -> Fraction:
        return self.count * self.width


def framed(house: House) -> list[Doors]:
    """Of each framed end wall, the front first."""
    gap = house.size("door_clearance") if house.text("door_clearance") else DOOR_CLEARANCE[house.units]
    both = [
        Doors(
            end,
            house.count(f"{end}_door_count"),
            house.size(f"{end}_door_width"),
            house.size(f"{end}_door_height"),
            gap,
        )
        for end in ("front", "back")
    ]
    return both[: house.count("end_walls")] if house.text("end_frame_material") else []


def equal_pieces(run: Fraction) -> list[Fraction]:
    pieces = 1
    while run / pieces > LONGEST_SILL:
        pieces += 1
    return [run / pieces] * pieces


def studs(house: House, doors: Doors) -> tuple[list[float], list[float]]:
    """Full ones from the sill up to the hoop, and short ones from the header: at each step from the middle.

    None stands in a ground post, within half its width of a door post, or where it would be shorter than a hand.
    """
    upright, hole = house.stuff[house.text("end_frame_material")].upright, doors.opening / 2
    spacing, full, short = house.size("end_stud_spacing"), [], []
    for k in range(math.ceil(house.inside / spacing) + 1):
        at, sides = k * spacing, 1 if k == 0 else 2
        if doors.count and at < hole:
            short += sides * [house.above(at) - float(doors.height + upright)]
        elif at + upright / 2 <= house.inside and (not doors.count or at - upright / 2 >= hole + 3 * upright / 2):
            full += sides * [house.above(at) - float(upright)]
    return [stud for stud in full if stud >= SHORTEST_STUD], [stud for stud in short if stud >= SHORTEST_STUD]


def _end_walls(house: House) -> Iterator[Row]:
    """Sill between the faces of the posts, or of the hoop where there are none, studs from it up to the hoop, door
    posts from the ground, a header, and studs on the header."""
    frame = house.text("end_frame_material")
    for doors in framed(house):
        upright = house.stuff[frame].upright
        inside, hole = house.inside, doors.opening / 2
        pieces: list[Fraction | float] = []
        if doors.count:
            pieces += 2 * equal_pieces(inside - hole - upright)
            pieces += 2 * [house.above(hole + upright / 2)]
            pieces += [doors.opening]
        else:
            pieces += equal_pieces(2 * inside)
        full, short = studs(house, doors)
        pieces += [*full, *short]
        for piece in pieces:
            yield Row(f"{doors.end} end wall", frame, piece, 1)


def _leaves(house: House) -> Iterator[Row]:
    """Each leaf of two uprights and three rails between them, smaller than its share of the opening at all edges."""
    frame = house.text("end_frame_material")
    for doors in framed(house):
        rail = doors.width - 2 * doors.clearance - 2 * house.stuff[frame].across
        yield Row(f"{doors.end} doors", frame, doors.height - 2 * doors.clearance, 2 * doors.count)
        yield Row(f"{doors.end} doors", frame, rail, 3 * doors.count)


def _latches(house: House) -> Iterator[Row]:
    """One a door (common practice, no source)."""
    if house.text("door_latch_material"):
        yield Row("door latches", house.text("door_latch_material"), None, sum(d.count for d in framed(house)), True)


def _braces(house: House) -> Iterator[Row]:
    """As many and as long as was typed."""
    if house.text("brace_material"):
        yield Row("corner braces", house.text("brace_material"), house.size("brace_length"), house.count("brace_count"))


def _film(house: House) -> Iterator[Row]:
    """A sheet a layer along the house, and what covers the framed end walls."""
    film, layers = house.text("film_material"), house.count("film_layers")
    if not (film and layers):
        return
    yield Row("film over the house", film, house.size("length") + 2 * house.size("film_end_allowance"), layers)
    if house.count("end_walls"):
        yield Row("film on the end walls", film, *_on_ends(house, house.stuff[film].across))


def _on_ends(house: House, roll: Fraction) -> tuple[Fraction | float, int]:
    """Length and number of the sheets that cover the end walls with the least of the roll.

    A wall is covered by the whole width of a sheet, or, where there are two, both by the halves of one; the width
    stands upright or lies across. Where as much is taken, whole sheets are better than halves, and upright than across.
    """
    walls, spare = house.count("end_walls"), house.size("end_film_allowance")
    across = house.size("post_span") + 2 * (spare or house.size("film_side_allowance"))
    high = house.above(Fraction(0)) + float(spare)
    ways: list[tuple[Fraction | float, int]] = []
    if high <= roll:
        ways.append((across, walls))
    if across <= roll:
        ways.append((high, walls))
    if walls == 2 and high <= roll / 2:
        ways.append((across, 1))
    if walls == 2 and across <= roll / 2:
        ways.append((high, 1))
    return min(ways, key=lambda way: way[0] * way[1])


def _channel(house: House) -> Iterator[Row]:
    """Runs along the house, and one over each end hoop."""
    channel = house.text("channel_material")
    if channel:
        yield Row("channel along the house", channel, house.size("length"), house.count("channel_runs"))
        over = 2 if yes(house.text("channel_on_ends")) else 0
        yield Row("channel over the end hoops", channel, house.pipe, over)


def purlin_runs(house: House) -> int:
    return house.count("ridge_purlins") + house.count("side_purlins") if house.text("purlin_material") else 0


def joints_of_runs(house: House, purpose: str, run: tuple[Fraction, Fraction, Fraction], count: int) -> int:
    """One fewer in each run than it has sticks: those that the plan takes, or of the length typed."""
    return house.joined.get(purpose, run_of_sticks(*run) * count) - count if count else 0


def taped_joints(house: House) -> int:
    """Of stick and stick, in hoops and purlins, on which the film lies."""
    return house.hoops * (house.sticks - 1) + purlin_joints(house)


def purlins_by_kind(house: House) -> dict[str, int]:
    """How many whole runs of each, and of those that begin with a sawn stick: every second, walked across the house."""
    half, ridge = house.count("side_purlins") // 2, house.count("ridge_purlins")
    across = ["side purlins"] * half + ["ridge purlins"] * ridge + ["side purlins"] * half
    joined = house.size("purlin_stick_length") < house.size("length")
    if joined and house.size("purlin_first_stick") and is_sleeve(house.text("purlin_joint")):
        across = ["staggered purlins" if n % 2 else kind for n, kind in enumerate(across)]
    return {kind: across.count(kind) for kind in ("ridge purlins", "side purlins", "staggered purlins")}


def purlin_joints(house: House) -> int:
    """One more in a run that begins with a sawn stick, which is joined to the rest."""
    found = 0
    if house.text("purlin_material"):
        run, stick, slide = (house.size(f) for f in ("length", "purlin_stick_length", "purlin_insertion"))
        for kind, count in purlins_by_kind(house).items():
            cut = house.size("purlin_first_stick") if kind == "staggered purlins" else Fraction(0)
            found += joints_of_runs(house, kind, (run - cut, stick, slide), count) + (count if cut else 0)
    return found


def joint_screws(house: House) -> int:
    """A joint by a sleeve has a number of its own; 2 where none is typed."""
    each = house.count("screws_per_joint")
    in_hoop = int(house.recipe.get("sleeve_screws") or 2) if is_sleeve(house.recipe.get("joint")) else each
    in_purlin = house.count("purlin_sleeve_screws", 2) if is_sleeve(house.text("purlin_joint")) else each
    hoops = house.hoops * (house.sticks - 1)
    return hoops * in_hoop + purlin_joints(house) * in_purlin + curtain_joints(house) * each


def _curtain(house: House) -> tuple[Fraction, Fraction, Fraction]:
    return house.size("length"), house.size("curtain_pipe_stick_length"), house.size("curtain_pipe_insertion")


def curtain_joints(house: House) -> int:
    return joints_of_runs(house, "curtain pipes", _curtain(house), 2) if has_curtains(house) else 0


def has_curtains(house: House) -> bool:
    return house.text("side_closing") == "curtain"


def _sides(house: House) -> Iterator[Row]:
    """A roll-up curtain on each side: film and pipe as long as the house, a crank, a guide at each hoop (common
    practice, no source)."""
    if has_curtains(house):
        yield Row("side curtains", house.text("curtain_film_material"), house.size("length"), 2)
        yield runs_of_pipe("curtain pipes", house.text("curtain_pipe_material"), *_curtain(house), 2)
        yield from counted(
            house,
            ("curtain cranks", "curtain_crank_material", 2),
            ("curtain guides", "curtain_guide_material", 2 * house.hoops),
        )


def _fixings(house: House) -> Iterator[Row]:
    """Screws a joint, bolts a crossing of board row and hoop, anchors as typed."""
    board_rows = sum(
        2 * house.count(f"{height}_board_rows") for height in ("hip", "base") if house.text(f"{height}_board_material")
    )
    yield from counted(
        house,
        (
            "joint screws",
            "screw_material",
            joint_screws(house),
        ),
        ("board bolts", "bolt_material", board_rows * house.hoops * house.count("bolts_per_crossing")),
        ("anchors", "anchor_material", house.count("anchor_count")),
    )


def counted(house: House, *things: tuple[str, str, int]) -> Iterator[Row]:
    """(purpose, field of its material, how many)."""
    for purpose, material, count in things:
        if house.text(material):
            yield Row(purpose, house.text(material), None, count, True)


PARTS = (_hoops, _posts, _purlins, _boards, _end_walls, _leaves, _latches, _braces, _film, _sides, _channel, _fixings)
