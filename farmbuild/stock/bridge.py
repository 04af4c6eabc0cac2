"""Lots as planning inputs, and what a bare length means."""

from farmbuild.measure import Unit, UnitSystem
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
    return Unit.FOOT if organisation.unit_system == UnitSystem.IMPERIAL else Unit.METRE
