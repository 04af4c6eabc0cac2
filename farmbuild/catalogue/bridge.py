"""Catalogue rows as planning inputs."""

from collections.abc import Iterable
from decimal import Decimal
from itertools import groupby

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.measure import (
    POINT,
    Unit,
    UnitSystem,
    format_both,
    format_decimal,
    format_film,
    format_mm,
    limits,
    parse_length,
)
from farmbuild.measure.money import parse_money
from farmbuild.mechanics import TubeSection
from farmbuild.orgs.models import Organisation
from farmbuild.planning import inputs, materials
from farmbuild.planning.house.spring import stress_text as stress_text

INCH_MM = Decimal("25.4")


def buyer_input(organisation: Organisation) -> inputs.Buyer:
    return inputs.Buyer(
        name=organisation.name,
        address=organisation.address,
        contact=organisation.contact,
        currency=organisation.currency,
        units=UnitSystem(organisation.unit_system),
        tax_name=organisation.tax_name,
        tax_percent=organisation.tax_percent,
        decimal_sign=organisation.decimal_sign,
        prices_include_tax=organisation.prices_include_tax,
    )


def material_input(material: Material) -> materials.Material:
    return materials.Material(
        code=material.code,
        name=material.name,
        kind=materials.Kind(material.kind),
        width=material.width,
        thickness=material.thickness,
        swaged=material.swaged,
        yield_mpa=(material.yield_mpa or Decimal(0)) if material.kind == Material.Kind.TUBE else None,
        tax_percent=material.tax_percent,
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


def offer_inputs(prices: Iterable[PriceBreak]) -> list[inputs.Offer]:
    """Of prices in the order of their offers, each with its supplier and material loaded."""
    return [offer_input(offer, list(rows)) for offer, rows in groupby(prices, key=lambda row: row.offer)]


def offer_input(offer: Offer, breaks: Iterable[PriceBreak] | None = None) -> inputs.Offer:
    """``offer`` comes with supplier, material and, where they are not given, breaks loaded."""
    return inputs.Offer(
        ref=offer.ref,
        supplier=offer.supplier.code,
        material=offer.material.code,
        length=offer.length,
        pack=offer.pack,
        breaks=tuple(
            inputs.PriceBreak(from_quantity=row.from_quantity, unit_price=row.unit_price)
            for row in (offer.breaks.all() if breaks is None else breaks)
        ),
        lead_days=offer.lead_days,
        valid_until=offer.valid_until,
        supplier_code=offer.supplier_code,
    )


def read_size(text: str) -> Decimal:
    """A size with its unit, as typed in a shipped file; a bare number is in inches. Raises LengthError."""
    return parse_length(text, Unit.INCH, style=POINT)


def fine_size(length: Decimal, organisation: Organisation) -> tuple[str, str]:
    """A size in the reader's units and in the other: thousandths of an inch where sixteenths are not exact."""
    inches, mm = f'{format_decimal(length / INCH_MM, 3)}"', format_mm(length, 2)
    if length % (INCH_MM / 16) == 0:
        inches, mm = format_both(length, UnitSystem.IMPERIAL)
    return (inches, mm) if organisation.unit_system == UnitSystem.IMPERIAL else (mm, inches)


def film_size(thickness: Decimal, organisation: Organisation) -> tuple[str, str]:
    """The thickness of a film in the reader's units, mils or micrometres, and in the other."""
    mils, microns = (format_film(thickness, system) for system in (UnitSystem.IMPERIAL, UnitSystem.METRIC))
    return (mils, microns) if organisation.unit_system == UnitSystem.IMPERIAL else (microns, mils)


def read_money(text: str, currency: str, *, most_places: int) -> Decimal:
    """An amount of zero or more as people type it. Raises ValueError with a sentence that says how."""
    return parse_money(text, currency, most_places=most_places)


def wall_problem(material: Material) -> str:
    """What to type where the wall of a tube does not fit its outside diameter; empty where it does."""
    if material.kind != Material.Kind.TUBE or material.width is None or material.thickness is None:
        return ""
    return limits.wall_problem(material.width, material.thickness, UnitSystem(material.organisation.unit_system))


def section_of(material: Material) -> TubeSection | None:
    """The section of a tube whose sizes are known, with its stated yield; None for everything else."""
    if material.kind != Material.Kind.TUBE or material.width is None or material.thickness is None:
        return None
    if wall_problem(material):
        return None
    stated = None if material.yield_mpa is None else float(material.yield_mpa)
    return TubeSection(material.name, material.width, material.thickness, stated, material.yield_source)
