"""Corner braces, set with the purlins."""

from __future__ import annotations

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import HouseContext
from farmbuild.planning.house.part import Part, WorkKind
from farmbuild.planning.results import TakeoffRow


def rows(house: HouseContext) -> list[TakeoffRow]:
    spec = house.spec
    if not (spec.brace_material and spec.brace_count):
        return []
    working = f"{count_noun(spec.brace_count, 'brace')} of {house.say(spec.brace_length)} as the house spec says"
    return [house.pieces("corner braces", spec.brace_material, spec.brace_length, spec.brace_count, working)]


PART = Part(rows=rows, purposes={"corner braces": (WorkKind.SAW, WorkKind.RIDGE)})
