"""What holds a house together, counted a second time. All counts: common practice, no source."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from tests.outside.rows import (
    Doors,
    House,
    Row,
    counted,
    equal_pieces,
    framed,
    purlin_runs,
    studs,
    taped_joints,
)
from tests.outside.typed import IMPERIAL, INCH, METRIC, yes

#: Film of a door is folded round each edge by this; screws of channel stand no further apart than that.
FOLD, CHANNEL_SCREWS = 2 * INCH, {IMPERIAL: 24 * INCH, METRIC: Fraction(600)}


def fittings(house: House) -> Iterator[Row]:
    doors = sum(wall.count for wall in framed(house))
    braces = house.count("brace_count") if house.text("brace_material") else 0
    posts = 2 * house.hoops if house.text("post_material") else 0
    blown = int(bool(house.text("film_material")) and house.count("film_layers") == 2)
    yield from counted(
        house,
        ("purlin connectors", "purlin_connector_material", purlin_runs(house) * house.hoops),
        ("hoop-to-post fasteners", "post_fastener_material", posts * house.count("fasteners_per_post", 1)),
        ("brace clamps", "brace_clamp_material", 2 * braces),
        ("end wall screws", "end_screw_material", frame_joints(house) * house.count("end_screws_per_joint", 2)),
        ("door hinges", "hinge_material", doors * house.count("hinges_per_door", 3)),
        ("door stops", "door_stop_material", doors),
        ("channel screws", "channel_screw_material", channel_screws(house)),
        ("inflation fans", "fan_material", blown),
        ("inflation hoses", "hose_material", blown),
        ("joint tape", "tape_material", math.ceil(Fraction(taped_joints(house), house.count("joints_per_roll", 50)))),
        ("anchor ties", "anchor_tie_material", house.count("anchor_count") if house.text("anchor_material") else 0),
    )
    yield from _skins(house)
    if house.text("wire_material"):
        for where, length, count in channel_runs(house):
            yield Row(f"fixing wire {where}", house.text("wire_material"), length, count)


def channel_runs(house: House) -> list[tuple[str, Fraction, int]]:
    """Where, how long, and how many."""
    if not house.text("channel_material"):
        return []
    found = [("along the house", house.size("length"), house.count("channel_runs"))]
    return found + [("over the end hoops", house.pipe, 2)] * yes(house.text("channel_on_ends"))


def channel_screws(house: House) -> int:
    """In each run one at its start, and one after each step until its end is reached."""
    step = house.size("channel_screw_spacing") or CHANNEL_SCREWS[house.units]
    total = 0
    for _, length, count in channel_runs(house):
        screws, reached = 1, Fraction(0)
        while reached < length:
            screws, reached = screws + 1, reached + step
        total += screws * count
    return total


def frame_joints(house: House) -> int:
    """Where two members of end walls and of door leaves meet: a leaf has three rails, each with two ends."""
    total = 0
    for doors in framed(house):
        total += 3 * 2 * doors.count
        full, short, sills = _members(house, doors)
        # Ends of sill runs and splices between their pieces; both ends of studs; of a door also both ends of the header
        # and the tops of two posts, whose feet are ends of the sill.
        total += sills + 2 * (full + short) + (2 + 2 if doors.count else 0)
    return total


def _members(house: House, doors: Doors) -> tuple[int, int, int]:
    """Full studs, short studs over the door, and joints along the sill."""
    full, short = studs(house, doors)
    upright = house.stuff[house.text("end_frame_material")].upright
    runs = 2 * [house.inside - doors.opening / 2 - upright] if doors.count else [2 * house.inside]
    return len(full), len(short), sum(len(equal_pieces(run)) + 1 for run in runs)


def _skins(house: House) -> Iterator[Row]:
    """A sheet a door, or film off a roll: as many side by side over it as go, the way round that takes less of it."""
    code = house.text("door_skin_material")
    if not code:
        return
    if house.stuff[code].kind != "film":
        yield Row("door skins", code, None, sum(wall.count for wall in framed(house)), True)
        return
    sheets: Counter[tuple[Fraction, Fraction]] = Counter()
    for doors in framed(house):
        edge = 2 * FOLD - 2 * doors.clearance
        sheets[doors.width + edge, doors.height + edge] += doors.count
    for sheet, count in sheets.items():
        if not count:
            continue
        ways = []
        for across, along in (sheet, sheet[::-1]):
            beside = math.floor(house.stuff[code].across / across)
            if beside:
                ways.append((math.ceil(Fraction(count, beside)), along))
        yield Row("door skins", code, *reversed(min(ways, key=lambda way: (way[0] * way[1], way[0]))))
