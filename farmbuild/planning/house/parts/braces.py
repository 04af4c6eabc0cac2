"""Corner braces, set with the purlins."""

from __future__ import annotations

from farmbuild.measure import count_noun, format_count
from farmbuild.planning.house.context import HouseContext, SpecContext
from farmbuild.planning.house.part import NONE, Part, WorkKind
from farmbuild.planning.results import TakeoffRow


def rows(house: HouseContext) -> list[TakeoffRow]:
    spec = house.spec
    if not (spec.brace_material and spec.brace_count):
        return []
    working = f"{count_noun(spec.brace_count, 'brace')} of {house.say(spec.brace_length)} as the house spec says"
    return [house.pieces("corner braces", spec.brace_material, spec.brace_length, spec.brace_count, working)]


def _said(house: SpecContext) -> str:
    spec = house.spec
    if not spec.brace_count:
        return NONE
    length = f", {house.say(spec.brace_length)}" if spec.brace_length else ""
    return f"{format_count(spec.brace_count)}: {house.name_of(spec.brace_material) or 'no material chosen'}{length}"


PART = Part(
    rows=rows,
    purposes={"corner braces": (WorkKind.SAW, WorkKind.RIDGE)},
    said={"Corner braces": _said},
)
