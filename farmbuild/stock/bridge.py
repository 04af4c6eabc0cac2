"""Lots as planning inputs."""

from farmbuild.planning import inputs
from farmbuild.stock.models import Lot


def lot_input(lot: Lot) -> inputs.Lot:
    """``lot`` comes with material and place loaded."""
    return inputs.Lot(
        ref=lot.reference,
        material=lot.material.code,
        length=lot.length,
        quantity=lot.on_hand,
        unit_cost=lot.unit_cost,
        place=lot.place.name,
        offcut=lot.offcut,
    )
