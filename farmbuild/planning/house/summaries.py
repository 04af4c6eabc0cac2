"""What is folded in the form of a house, in one line a section; each part says its own."""

from __future__ import annotations

from collections.abc import Mapping

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.context import SpecContext
from farmbuild.planning.house.parts import PARTS
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Material


def section_words(spec: HouseSpec, materials: Mapping[str, Material], units: UnitSystem) -> dict[str, str]:
    """By section of ``fields.py``, of a spec as far as it is typed; nothing is asked of its recipe."""
    house = SpecContext(spec, materials, units)
    return {section: say(house) for part in PARTS for section, say in part.said.items()}
