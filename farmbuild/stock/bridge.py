"""Lots as planning inputs, and lengths as the organisation types and reads them."""

from farmbuild.measure import (
    Unit,
    UnitSystem,
    from_minor,
    line_total,
    places,
    round_money,
    share_out,
    share_whole,
    to_minor,
)
from farmbuild.orgs.models import Organisation
from farmbuild.planning import inputs
from farmbuild.stock.models import Lot


def lot_input(lot: Lot) -> inputs.Lot:
    """``lot`` comes with material, place and its site loaded."""
    return inputs.Lot(
        ref=lot.reference,
        material=lot.material.code,
        length=lot.length,
        quantity=lot.on_hand,
        unit_cost=lot.unit_cost,
        place=lot.place.name,
        offcut=lot.offcut,
        site=lot.place.site.slug if lot.place.site else "",
    )


def length_unit(organisation: Organisation) -> Unit:
    """What a bare number in a stock file means: sticks are measured in feet, or in metres."""
    return Unit.FOOT if is_imperial(organisation) else Unit.METRE


def is_imperial(organisation: Organisation) -> bool:
    return organisation.unit_system == UnitSystem.IMPERIAL


def units_of(organisation: Organisation) -> UnitSystem:
    return UnitSystem(organisation.unit_system)


__all__ = [
    "Unit",
    "from_minor",
    "is_imperial",
    "length_unit",
    "line_total",
    "lot_input",
    "places",
    "round_money",
    "share_out",
    "share_whole",
    "to_minor",
    "units_of",
]
