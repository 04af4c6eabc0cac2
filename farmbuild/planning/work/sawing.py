"""Sawing to length, before anything is built of the pieces.

A piece of tube or lumber takes one cut, and so does the end of a joined run that is too long. A piece as long as a
stick that its house asks for takes none. Film is cut with a knife and channel where it is laid, both with the film.
Rows of one's own are cut with the rest, and sawing does not wait for their material.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from farmbuild.measure import count_noun, format_count
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext
from farmbuild.planning.house.part import PartWork, WorkKind
from farmbuild.planning.house.parts import PARTS
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.results import TakeoffRow

SAWN = frozenset({Kind.TUBE, Kind.LUMBER})


def whole_sticks(spec: HouseSpec) -> dict[str, set[Decimal]]:
    """By material, the lengths in mm of the sticks that the house asks for."""
    found: dict[str, set[Decimal]] = {}
    for material, lengths in (
        (spec.recipe.tube, (spec.recipe.stick_length,)),
        (spec.purlin_material, (spec.purlin_stick_length,)),
        (spec.hip_board_material, spec.hip_board_lengths),
        (spec.base_board_material, spec.base_board_lengths),
    ):
        found.setdefault(material, set()).update(lengths)
    return found


def is_sawn(row: TakeoffRow, materials: Mapping[str, Material]) -> bool:
    """Whether it is of pieces that may be cut from any stick with a saw."""
    return not row.whole and row.length is not None and materials[row.material].kind in SAWN


def count_cuts(house: HouseContext) -> tuple[int, str]:
    rows = [row for part in PARTS for row in part.rows(house)]
    sticks = whole_sticks(house.spec)
    cut: dict[str, dict[Decimal, int]] = {}
    uncut = trims = 0
    for row in rows:
        trims += row.trims
        if row.length is None or not is_sawn(row, house.materials):
            continue
        if row.length in sticks.get(row.material, ()):
            uncut += row.quantity
        else:
            of_length = cut.setdefault(row.material, {})
            of_length[row.length] = of_length.get(row.length, 0) + row.quantity
    total = trims + sum(sum(counts.values()) for counts in cut.values())
    if not total:
        return 0, sentence("Every piece of the house is a whole stick.")
    return total, joined("; ", _words(house, cut, uncut, trims))


def _words(house: HouseContext, cut: Mapping[str, Mapping[Decimal, int]], uncut: int, trims: int) -> Iterator[str]:
    for material, counts in cut.items():
        pieces = joined(
            ", ",
            (
                sentence("%(count)s of %(length)s", count=count, length=house.say(length))
                for length, count in sorted(counts.items(), reverse=True)
            ),
        )
        yield sentence(
            "%(material)s, %(count)s: %(pieces)s",
            material=house.materials[material].name,
            count=sum(counts.values()),
            pieces=pieces,
        )
    if trims:
        yield (
            sentence("%(ends)s end of joined purlins, one a run", ends=format_count(trims))
            if trims == 1
            else sentence("%(ends)s ends of joined purlins, one a run", ends=format_count(trims))
        )
    if uncut:
        yield sentence("%(pieces)s as long as a stick: no cut", pieces=count_noun(uncut, "piece"))


WORK = PartWork(WorkKind.SAW, ("cut", "cuts"), count_cuts)
