"""How an organisation writes its numbers."""

from __future__ import annotations

from farmbuild.measure import NumberStyle, UnitSystem, number_style
from farmbuild.orgs.models import Organisation


def style_of(*, organisation: Organisation) -> NumberStyle:
    return number_style(organisation.decimal_sign, UnitSystem(organisation.unit_system))
