"""Lengths, sizes and names as they stand in our workbooks."""

from __future__ import annotations

import re
import unicodedata
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from farmbuild.measure import (
    NumberStyle,
    UnitSystem,
    current_style,
    format_decimal,
    format_film,
    format_length,
    format_mm,
    places,
    says_exactly,
)
from farmbuild.planning.materials import Kind, Material
from farmbuild.workbooks.writing import Look

INCH_MM = Decimal("25.4")
#: One avoirdupois pound in kg (international yard and pound agreement, 1959).
POUND_KG = Decimal("0.45359237")
_PLACES = Decimal("0.0001")

COUNT = Look(number="#,##0", align="right", line=True)
LENGTH = Look(number="#,##0.####", align="right", line=True)
LENGTH_TEXT = Look(align="right", line=True)
DAY = Look(number="d mmm yyyy", align="right", line=True)

_NOT_IN_NAMES = re.compile(r"[^\w.]+")


def money_format(currency: str) -> str:
    """Number format with the decimals that the currency has."""
    decimals = places(currency)
    return f"#,##0.{'0' * decimals}" if decimals else "#,##0"


def money_look(currency: str) -> Look:
    return Look(number=money_format(currency), align="right", line=True)


def price_look(currency: str) -> Look:
    """A price of one may have more decimals than the currency, up to four."""
    decimals = places(currency)
    return Look(number=f"#,##0.{'0' * decimals}{'#' * (4 - decimals)}", align="right", line=True)


def length_text(length: Decimal | None, units: UnitSystem) -> str | None:
    return None if length is None else format_length(length, units)


def length_number(length: Decimal | None, units: UnitSystem) -> Decimal | None:
    """The length as a number in ``small_unit``, to four places."""
    if length is None:
        return None
    number = length / INCH_MM if units == UnitSystem.IMPERIAL else length
    return number.quantize(_PLACES, ROUND_HALF_UP)


def small_unit(units: UnitSystem) -> str:
    return "in" if units == UnitSystem.IMPERIAL else "mm"


def weight(kilograms: Decimal, units: UnitSystem) -> tuple[Decimal, str]:
    if units == UnitSystem.IMPERIAL:
        return (kilograms / POUND_KG).quantize(Decimal("0.1"), ROUND_HALF_UP), "lb"
    return kilograms, "kg"


def _fine(length: Decimal, units: UnitSystem) -> str:
    if units == UnitSystem.IMPERIAL:
        return f'{format_decimal((length / INCH_MM).quantize(_PLACES, ROUND_HALF_UP).normalize())}"'
    return format_mm(length.quantize(Decimal("0.01"), ROUND_HALF_UP).normalize())


def _exact(length: Decimal, units: UnitSystem) -> str:
    return _exact_by(length, units, current_style())


@lru_cache(maxsize=1000)
def _exact_by(length: Decimal, units: UnitSystem, style: NumberStyle) -> str:
    """As it is said where that rounds nothing off, else in decimals: a tube of 1.66 in is no 1 11/16."""
    shown = format_length(length, units)
    return shown if says_exactly(shown, length) else _fine(length, units)


def material_size(material: Material, units: UnitSystem) -> str:
    """The section in words, such as ``1 3/8" outside, 0.065" wall``; "" when the material has none."""
    width = None if material.width is None else _exact(material.width, units)
    if material.kind is Kind.TUBE:
        parts = [f"{width} outside" if width else ""]
        parts += [f"{_fine(material.thickness, units)} wall" if material.thickness is not None else ""]
        return ", ".join(part for part in parts if part)
    if material.kind is Kind.FILM:
        parts = [f"{width} wide" if width else ""]
        parts += [format_film(material.thickness, units) if material.thickness is not None else ""]
        return ", ".join(part for part in parts if part)
    sizes = [width] if width else []
    if material.thickness is not None:
        sizes.insert(0, _exact(material.thickness, units))
    return " × ".join(sizes)


def safe_name(text: str, *, most: int = 60) -> str:
    """Part of a file name: letters and digits of any script with hyphens; never a path, never empty."""
    plain = _NOT_IN_NAMES.sub("-", unicodedata.normalize("NFKC", text)).strip("-._")
    plain = re.sub(r"\.{2,}", ".", plain)
    while len(plain.encode()) > most:
        plain = plain[:-1]
    return plain.strip("-._") or "unnamed"
