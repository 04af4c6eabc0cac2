"""How an organisation writes its numbers."""

from __future__ import annotations

from farmbuild.measure import THIN_SPACE, NumberStyle
from farmbuild.orgs.models import Organisation


def style_of(*, organisation: Organisation) -> NumberStyle:
    """A comma parts thousands in feet and inches with a decimal point alone: elsewhere it may be read as decimal."""
    point = organisation.decimal_sign == Organisation.DecimalSign.POINT
    plain = point and organisation.unit_system == Organisation.Units.IMPERIAL
    return NumberStyle(organisation.decimal_sign, "," if plain else THIN_SPACE)
