"""The worked example: seven members, 200 rails of which 3 came damaged and were credited, and 24 pipes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from tests.factories import FOOT

D = Decimal
RAIL, PIPE = ("rail", FOOT * 10), ("pipe", FOOT * 20)


@dataclass(frozen=True)
class Worked:
    """A row of the table; ``alone``: what the pieces it got come to where it orders alone."""

    ordered: int
    rails: int
    pipes: int
    goods: Decimal
    rail_tax: Decimal
    pipe_tax: Decimal
    delivery: Decimal
    owes: Decimal
    alone: Decimal


_ROWS = """
61 60 9 1071.00 47.81 19.13 27.36 1165.30 1287.33
37 36 0 459.00 28.69 0 11.72 499.41 643.45
29 28 7 595.00 22.31 14.88 15.20 647.39 790.08
23 23 0 293.25 18.33 0 7.49 319.07 441.79
19 19 5 412.25 15.14 10.62 10.53 448.54 573.12
17 17 3 318.75 13.55 6.37 8.14 346.81 464.74
14 14 0 178.50 11.15 0 4.56 194.21 302.18
"""
MEMBERS = [Worked(*map(int, row.split()[:3]), *map(D, row.split()[3:])) for row in _ROWS.strip().splitlines()]
ORDERED = [{RAIL: one.ordered, PIPE: one.pipes} for one in MEMBERS]
OWES = [one.owes for one in MEMBERS]
