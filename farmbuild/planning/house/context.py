"""What every part of a house works with: the spec, its materials and shape, and how a length is said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_decimal, format_length, format_mm, says_exactly
from farmbuild.measure.lengths import FOOT_MM, INCH_MM
from farmbuild.measure.speech import gettext_noop, sentence
from farmbuild.planning.house.shape import HouseShape, ceil_ratio, house_shape
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Material
from farmbuild.planning.results import TakeoffRow


@dataclass(frozen=True)
class SpecProblem:
    """What keeps a house from being built, or must be known of it.

    ``field`` is of HouseSpec; ``part`` names the field of its recipe, or
    of the row of its own at ``row``, from 0.
    """

    field: str
    message: str
    part: str = ""
    row: int = 0


def size_text(length: Decimal, units: UnitSystem) -> str:
    """As it is said where that rounds nothing off, else to a thousandth of an inch or a tenth of a mm."""
    shown = format_length(length, units)
    if says_exactly(shown, length):
        return shown
    if units == UnitSystem.METRIC:
        return format_mm(length, 1)
    return f'{format_decimal(length / INCH_MM, 3)}"'


@dataclass(frozen=True)
class SpecContext:
    """A spec that may not make sense. ``materials`` by code; ``units`` are the reader's."""

    spec: HouseSpec
    materials: Mapping[str, Material]
    units: UnitSystem

    def say(self, length: Decimal) -> str:
        return format_length(length, self.units)

    def name_of(self, code: str) -> str:
        return self.materials[code].name if code in self.materials else code

    def say_size(self, length: Decimal) -> str:
        return size_text(length, self.units)


@dataclass(frozen=True)
class HouseContext(SpecContext):
    """A spec that makes a shape. ``ref`` is the house's, on each row of its take-off."""

    shape: HouseShape
    ref: str = ""

    def in_whole(self, run: Decimal) -> tuple[int, str]:
        """How many feet or metres of work it is, begun ones full, and in words."""
        metric = self.units is UnitSystem.METRIC
        count = ceil_ratio(run, Decimal(1000) if metric else FOOT_MM)
        words = gettext_noop("%(count)s m, full metres") if metric else gettext_noop("%(count)s ft, full feet")
        return count, sentence(words, count=count)

    def pieces(self, purpose: str, material: str, length: Decimal, quantity: int, working: str) -> TakeoffRow:
        """Pieces that may be cut from any stick or offcut."""
        return TakeoffRow(self.ref, purpose, material, length, quantity, "pieces", False, working)

    def counted(self, purpose: str, material: str, quantity: int, working: str) -> TakeoffRow:
        return TakeoffRow(self.ref, purpose, material, None, quantity, "each", True, working)


def house_context(spec: HouseSpec, materials: Mapping[str, Material], units: UnitSystem, ref: str = "") -> HouseContext:
    """Of a spec that passes ``check_spec``, with every material that it names."""
    return HouseContext(spec, materials, units, house_shape(spec), ref)
