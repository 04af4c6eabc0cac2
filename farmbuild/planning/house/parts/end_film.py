"""Film on the framed end walls: laid as takes the least of the roll.

A sheet is one length off the roll. Its whole width covers one wall, or it is split along its middle and each half
covers a wall; the width stands upright, or lies across the wall. On equal length, whole sheets come before halves,
and upright before across. Door openings are cut out afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecProblem
from farmbuild.planning.results import TakeoffRow

PURPOSE = "film on the end walls"


@dataclass(frozen=True)
class Laying:
    """One way to cover all framed end walls; mm. ``half``: each sheet covers two of them."""

    upright: bool
    half: bool
    sheets: int
    length: Decimal

    @property
    def of_roll(self) -> Decimal:
        return self.sheets * self.length

    @property
    def name(self) -> str:
        if self.upright:
            return sentence("half the roll's width upright") if self.half else sentence("the roll's width upright")
        return sentence("half the roll's width across") if self.half else sentence("the roll's width across")


def layings(*, walls: int, across: Decimal, height: Decimal, roll: Decimal) -> list[Laying]:
    """Every way in which a roll covers so many equal walls, the best first; none: it covers them in no way."""
    found = []
    for half in (False, True):
        width, sheets = (roll / 2, 1) if half else (roll, walls)
        if half and walls != 2:
            continue
        for upright, covered, length in ((True, height, across), (False, across, height)):
            if covered <= width:
                found.append(Laying(upright, half, sheets, length))
    return sorted(found, key=lambda way: way.of_roll)


def _spare(house: HouseContext) -> tuple[Decimal, Decimal]:
    """On each side of the wall, and above the ridge."""
    own = house.spec.end_film_allowance
    return (own, own) if own else (house.spec.film_side_allowance, Decimal(0))


def size(house: HouseContext) -> tuple[Decimal, Decimal]:
    """Across the wall, and its height, with what is to spare; mm."""
    side, above = _spare(house)
    return house.spec.post_span + 2 * side, house.shape.ridge_height + above


def rows(house: HouseContext) -> Iterator[TakeoffRow]:
    spec, say = house.spec, house.say
    if not (spec.film_material and spec.film_layers and spec.end_walls):
        return
    roll = house.materials[spec.film_material].width or Decimal(0)
    across, height = size(house)
    ways = layings(walls=spec.end_walls, across=across, height=height, roll=roll)
    best, *others = ways
    sheets = count_noun(best.sheets, "sheet") + (sentence(" split lengthwise") if best.half else "")
    why = (
        joined(
            "; ", (sentence("%(way)s would take %(of_roll)s", way=way.name, of_roll=say(way.of_roll)) for way in others)
        )
        if others
        else sentence("no other way covers them")
    )
    side, above = _spare(house)
    over = sentence(" + %(above)s", above=say(above)) if above else ""
    working = sentence(
        "%(sheets)s for %(framed_end_walls)s, %(best)s; each wall %(post_span)s + 2 x %(side)s = "
        "%(across)s across, ridge %(ridge_height)s%(over)s = %(height)s high; roll %(roll)s "
        "wide, so %(sheets_2)s x %(length)s = %(of_roll)s of roll; %(why)s; door openings are "
        "cut out of it",
        sheets=sheets,
        framed_end_walls=count_noun(spec.end_walls, "framed end wall"),
        best=best.name,
        post_span=say(spec.post_span),
        side=say(side),
        across=say(across),
        ridge_height=say(house.shape.ridge_height),
        over=over,
        height=say(height),
        roll=say(roll),
        sheets_2=best.sheets,
        length=say(best.length),
        of_roll=say(best.of_roll),
        why=why,
    )
    yield house.pieces(PURPOSE, spec.film_material, best.length, best.sheets, working)


def fits(house: HouseContext, roll: Decimal) -> Iterator[SpecProblem]:
    """Of a house with film of that width."""
    if not house.spec.end_walls:
        return
    across, height = size(house)
    if not layings(walls=house.spec.end_walls, across=across, height=height, roll=roll):
        film = house.materials[house.spec.film_material]
        yield SpecProblem(
            "film_material",
            sentence(
                "%(film)s is %(roll)s wide; an end wall takes %(height)s of height or %(across)s across. "
                "Choose a wider film.",
                film=film.name,
                roll=house.say(roll),
                height=house.say(height),
                across=house.say(across),
            ),
        )
