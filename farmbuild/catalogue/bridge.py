"""Catalogue rows as planning inputs."""

from decimal import Decimal

from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.measure import Unit, parse_length
from farmbuild.measure.money import parse_money
from farmbuild.planning import inputs


def material_input(material: Material) -> inputs.Material:
    return inputs.Material(
        code=material.code,
        name=material.name,
        kind=inputs.Kind(material.kind),
        width=material.width,
        thickness=material.thickness,
        swaged=material.swaged,
    )


def supplier_input(supplier: Supplier) -> inputs.Supplier:
    return inputs.Supplier(
        code=supplier.code,
        name=supplier.name,
        address=supplier.address,
        contact=supplier.contact,
        delivery_charge=supplier.delivery_charge,
        free_delivery_from=supplier.free_delivery_from,
        minimum_order=supplier.minimum_order,
    )


def offer_input(offer: Offer) -> inputs.Offer:
    """``offer`` comes with supplier, material and breaks loaded."""
    return inputs.Offer(
        ref=f"offer-{offer.pk}",
        supplier=offer.supplier.code,
        material=offer.material.code,
        length=offer.length,
        pack=offer.pack,
        breaks=tuple(
            inputs.PriceBreak(from_quantity=row.from_quantity, unit_price=row.unit_price) for row in offer.breaks.all()
        ),
        lead_days=offer.lead_days,
        valid_until=offer.valid_until,
        supplier_code=offer.supplier_code,
    )


def read_size(text: str) -> Decimal:
    """A size with its unit, as typed in a shipped file; a bare number is in inches. Raises LengthError."""
    return parse_length(text, Unit.INCH)


def read_money(text: str, currency: str, *, most_places: int) -> Decimal:
    """An amount of zero or more as people type it. Raises ValueError with a sentence that says how."""
    return parse_money(text, currency, most_places=most_places)
