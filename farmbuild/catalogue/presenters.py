"""What the page of a tube shows: its section, worked from its sizes."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from django.utils.safestring import SafeString

from farmbuild.catalogue.bridge import MPA_PER_KSI, section_of
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.words import size_in_words, thickness_in_words
from farmbuild.common.figures import Figure

_NO_SOURCE = "No source is written down."


def tube_figures(material: Material) -> list[Figure]:
    """Every figure of the section with where it comes from; empty where diameter or wall is not known."""
    tube = section_of(material)
    if tube is None:
        return []
    od, bore, sizes = f"{tube.od:.2f} mm", f"{tube.bore:.2f} mm", material.note or _NO_SOURCE
    return [
        Figure("Outside diameter", sizes, text=_fine(tube.od)),
        Figure("Wall", sizes, text=_fine(tube.wall)),
        Figure("Bore", f"Outside diameter {od} less twice the wall of {tube.wall:.2f} mm.", text=_fine(tube.bore)),
        Figure(
            "Area of steel",
            f"Pi / 4 x (outside diameter {od} squared less bore {bore} squared)."
            " Any handbook of strength of materials.",
            text=f"{tube.area:.1f} mm² ({tube.area / 645.16:.4f} in²)",
        ),
        Figure(
            "Second moment of area",
            f"Pi / 64 x (outside diameter {od} to the fourth less bore {bore} to the fourth)."
            " Any handbook of strength of materials.",
            text=f"{tube.second_moment:,.0f} mm⁴ ({tube.second_moment / 25.4**4:.5f} in⁴)",
        ),
        Figure(
            "Weight",
            f"Area {tube.area:.1f} mm² x {tube.kg_per_m3:,.0f} kg/m³ of steel (0.2836 lb/in³), without zinc.",
            text=f"{tube.kg_per_m:.3f} kg/m ({tube.lb_per_ft:.3f} lb/ft)",
        ),
        Figure(
            "Stated yield",
            material.yield_source or _NO_SOURCE,
            text="not stated"
            if tube.yield_mpa is None
            else f"{tube.yield_mpa:,.0f} MPa ({tube.yield_mpa / MPA_PER_KSI:.1f} ksi)",
        ),
    ]


def sizes_of(material: Material) -> list[SafeString]:
    """Width and thickness for reading, as far as they are known."""
    width = size_in_words(material.width, material.organisation) if material.width is not None else None
    thickness = thickness_in_words(material) if material.thickness is not None else None
    return [size for size in (width, thickness) if size is not None]


def _fine(length: Decimal) -> str:
    """Walls differ by hundredths of a millimetre, so sixteenths of an inch say too little."""
    hundredths = length.quantize(Decimal("0.01"), ROUND_HALF_UP)
    return f"{length / Decimal('25.4'):.3f} in ({hundredths} mm)"
