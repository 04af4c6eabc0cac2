"""Speeds of wind in two units: compared exactly, said as typed."""

from __future__ import annotations

from decimal import ROUND_DOWN, Decimal

from farmbuild.crew.models.wind import SpeedUnit
from farmbuild.measure import format_decimal
from farmbuild.orgs.models import Organisation

#: Kilometres in a mile: 1,609.344 m, exact by the international yard and pound agreement of 1959.
KM_IN_MILE = Decimal("1.609344")
TENTH = Decimal("0.1")


def unit_of(*, organisation: Organisation) -> SpeedUnit:
    """The unit in which the organisation's people type speeds."""
    return SpeedUnit.KMH if organisation.unit_system == Organisation.Units.METRIC else SpeedUnit.MPH


def in_kmh(speed: Decimal, unit: str) -> Decimal:
    return speed * KM_IN_MILE if unit == SpeedUnit.MPH else speed


def limit_in(speed: Decimal, unit: str, wanted: str) -> Decimal:
    """A limit in the ``wanted`` unit to a tenth; rounded down, never up, so that it warns no later."""
    if unit == wanted:
        return speed
    kmh = in_kmh(speed, unit)
    return (kmh / KM_IN_MILE if wanted == SpeedUnit.MPH else kmh).quantize(TENTH, ROUND_DOWN)


def speed_words(speed: Decimal, unit: str, *, reader: SpeedUnit) -> str:
    """25 mph or 12.5 km/h as typed; 40.2 km/h (25 mph) where the reader's unit is another, rounded down."""
    typed = _words(speed, unit)
    return typed if unit == reader else f"{_words(limit_in(speed, unit, reader), reader)} ({typed})"


def _words(speed: Decimal, unit: str) -> str:
    return f"{format_decimal(speed.normalize())} {SpeedUnit(unit).label}"
