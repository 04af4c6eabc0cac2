"""Corner braces, set with the purlins."""

from __future__ import annotations

from farmbuild.measure import count_noun, format_count
from farmbuild.measure.speech import sentence
from farmbuild.planning.house.context import HouseContext, SpecContext
from farmbuild.planning.house.part import NONE, Part, WorkKind
from farmbuild.planning.results import TakeoffRow


def rows(house: HouseContext) -> list[TakeoffRow]:
    spec = house.spec
    if not (spec.brace_material and spec.brace_count):
        return []
    working = sentence(
        "%(braces)s of %(brace_length)s as the house spec says",
        braces=count_noun(spec.brace_count, "brace"),
        brace_length=house.say(spec.brace_length),
    )
    return [house.pieces("corner braces", spec.brace_material, spec.brace_length, spec.brace_count, working)]


def _said(house: SpecContext) -> str:
    spec = house.spec
    if not spec.brace_count:
        return NONE
    length = sentence(", %(brace_length)s", brace_length=house.say(spec.brace_length)) if spec.brace_length else ""
    return sentence(
        "%(brace_count)s: %(value)s%(length)s",
        brace_count=format_count(spec.brace_count),
        value=house.name_of(spec.brace_material) or sentence("no material chosen"),
        length=length,
    )


PART = Part(
    rows=rows,
    purposes={"corner braces": (WorkKind.SAW, WorkKind.RIDGE)},
    said={"Corner braces": _said},
)
