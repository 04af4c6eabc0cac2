"""What the page of a tube shows: its section, worked from its sizes."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.bridge import section_of, stress_text
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.words import size_in_words, thickness_in_words
from farmbuild.common.figures import Figure
from farmbuild.measure import ByUnits, UnitSystem, format_decimal, format_mm

_NO_SOURCE = gettext_lazy("No source is written down.")
#: Of steel, beside kilograms in a cubic metre.
_DENSITY = ByUnits(" (0.2836 lb/in³)", "")


def tube_figures(material: Material) -> list[Figure]:
    """Every figure of the section with where it comes from; empty where diameter or wall is not known."""
    tube = section_of(material)
    if tube is None:
        return []
    od, bore, sizes = format_mm(tube.od, 2), format_mm(tube.bore, 2), material.note or _NO_SOURCE
    units = UnitSystem(material.organisation.unit_system)

    def both(metric: str, imperial: str) -> str:
        """The reader's own first."""
        own, other = (metric, imperial) if units is UnitSystem.METRIC else (imperial, metric)
        return f"{own} ({other})"

    return [
        Figure(gettext("Outside diameter"), sizes, text=_fine(tube.od, both)),
        Figure(gettext("Wall"), sizes, text=_fine(tube.wall, both)),
        Figure(
            gettext("Bore"),
            gettext("Outside diameter %(od)s less twice the wall of %(wall)s.")
            % {"od": od, "wall": format_mm(tube.wall, 2)},
            text=_fine(tube.bore, both),
        ),
        Figure(
            gettext("Area of steel"),
            gettext(
                "Pi / 4 x (outside diameter %(od)s squared less bore %(bore)s squared). Any handbook of "
                "strength of materials."
            )
            % {"od": od, "bore": bore},
            text=both(f"{format_decimal(tube.area, 1)} mm²", f"{format_decimal(tube.area / 645.16, 4)} in²"),
        ),
        Figure(
            gettext("Second moment of area"),
            gettext(
                "Pi / 64 x (outside diameter %(od)s to the fourth less bore %(bore)s to the fourth). Any "
                "handbook of strength of materials."
            )
            % {"od": od, "bore": bore},
            text=both(
                f"{format_decimal(tube.second_moment, 0)} mm⁴", f"{format_decimal(tube.second_moment / 25.4**4, 5)} in⁴"
            ),
        ),
        Figure(
            gettext("Weight"),
            gettext("Area %(area)s mm² x %(kg_per_m3)s kg/m³ of steel%(of)s, without zinc.")
            % {
                "area": format_decimal(tube.area, 1),
                "kg_per_m3": format_decimal(tube.kg_per_m3, 0),
                "of": _DENSITY.of(units),
            },
            text=both(f"{format_decimal(tube.kg_per_m, 3)} kg/m", f"{format_decimal(tube.lb_per_ft, 3)} lb/ft"),
        ),
        Figure(
            gettext("Stated yield"),
            material.yield_source or _NO_SOURCE,
            text=gettext("not stated") if tube.yield_mpa is None else stress_text(tube.yield_mpa, units),
        ),
    ]


def sizes_of(material: Material) -> list[SafeString]:
    """Width and thickness for reading, as far as they are known."""
    width = size_in_words(material.width, material.organisation) if material.width is not None else None
    thickness = thickness_in_words(material) if material.thickness is not None else None
    return [size for size in (width, thickness) if size is not None]


def _fine(length: Decimal, both: Callable[[str, str], str]) -> str:
    """Walls differ by hundredths of a millimetre, so sixteenths of an inch say too little."""
    return both(format_mm(length, 2), f"{format_decimal(length / Decimal('25.4'), 3)} in")
