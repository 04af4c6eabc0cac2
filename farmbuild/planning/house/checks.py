"""Whether a house can be built as its spec says, and what must be known of it.

Every refusal and every remark names the field and says why in numbers.
"""

from __future__ import annotations

from collections.abc import Mapping

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.context import SpecContext, SpecProblem, house_context
from farmbuild.planning.house.limits import spec_limits
from farmbuild.planning.house.parts import PARTS
from farmbuild.planning.house.parts.hoops import spans
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Material


def check_spec(spec: HouseSpec, materials: Mapping[str, Material], units: UnitSystem) -> list[SpecProblem]:
    """Say what keeps a house from being built as specified; an empty list: nothing does.

    Each field is looked at by itself first, then what decides the shape, and only in a shape whether the parts fit,
    so that one mistyped number gives one message.
    """
    if problems := spec_limits(spec, materials, units):
        return problems
    house = SpecContext(spec, materials, units)
    if problems := [problem for part in PARTS for problem in part.sizes(house)]:
        return problems
    if problems := list(spans(house)):
        return problems
    built = house_context(spec, materials, units)
    return [problem for part in PARTS for problem in part.fits(built)]


def spec_remarks(spec: HouseSpec, materials: Mapping[str, Material], units: UnitSystem) -> list[SpecProblem]:
    """Say what whoever builds the house must know, of a spec that passes ``check_spec``; nothing here refuses it."""
    built = house_context(spec, materials, units)
    return [remark for part in PARTS for remark in part.remarks(built)]
