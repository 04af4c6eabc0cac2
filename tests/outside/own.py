"""Rows of a house's own, worked out a second time: so many for each of something, rounded up for the whole house."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from tests.outside.rows import House, Row, framed, purlin_runs
from tests.outside.typed import INCH, bare_unit, length


def own_rows(house: House) -> Iterator[Row]:
    posts = 2 * house.hoops if house.text("post_material") else 0
    times = {
        "house": 1,
        "hoop": house.hoops,
        "ground post": posts,
        "bay": house.bays,
        "purlin crossing": purlin_runs(house) * house.hoops,
        "door": sum(doors.count for doors in framed(house)),
        "end of the house": 2,
        "foot of house length": house.size("length") / (12 * INCH),
        "metre of house length": house.size("length") / 1000,
    }
    for row in house.own:
        purpose = f"own rows, {row['step']}" if row.get("step") else "own rows"
        total = math.ceil(Fraction(row["quantity"]) * times[row.get("per") or "house"])
        piece = length(row["length"], bare_unit(house.units, small=True)) if row.get("length") else None
        yield Row(purpose, row["material"], piece, total, piece is None)
