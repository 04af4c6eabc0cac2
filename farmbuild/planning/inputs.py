"""What a season plan is worked out from: plain values, no database.

Lengths are exact Decimal millimetres (six places), money is Decimal in the buyer's currency, quantities are
whole numbers. Materials, sites, suppliers, lots and offers are named by their code, which is unique in one
season.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from farmbuild.measure import NumberStyle, UnitSystem, number_style
from farmbuild.planning.house.spec import House
from farmbuild.planning.materials import Material


@dataclass(frozen=True)
class Site:
    code: str
    name: str
    address: str = ""


@dataclass(frozen=True)
class Lot:
    """A pile of equal things in one place. Offcuts have lost their swage and are never given out whole."""

    ref: str
    material: str
    #: None for counted things.
    length: Decimal | None
    quantity: int
    unit_cost: Decimal
    place: str
    offcut: bool = False
    #: Code of the site that the place is on, "" for none; its houses are served from it first.
    site: str = ""
    #: First day on which it is there, for what is on its way; None: it is there now.
    available_from: date | None = None
    #: Whose common stock it is, the name of a cooperative: its unit cost is paid for what is taken, and what is not
    #: taken stays there. "": the buyer's own.
    common: str = ""


@dataclass(frozen=True)
class InHouse:
    """Equal pieces that were handed out for a house: set, bent, or lying there to be used."""

    house: str
    material: str
    #: None for counted things.
    length: Decimal | None
    quantity: int
    #: Purpose of the take-off row that they were handed out for; "": none was said.
    purpose: str = ""
    #: They have lost their swage.
    offcut: bool = False
    #: In a hoop, or with the batch that bends it: of use for ``purpose`` alone.
    bent: bool = False


@dataclass(frozen=True)
class PriceBreak:
    from_quantity: int
    unit_price: Decimal


@dataclass(frozen=True)
class Offer:
    """One supplier's price for one thing: sold in whole packs, price a piece falling at each break."""

    ref: str
    supplier: str
    material: str
    length: Decimal | None
    pack: int
    breaks: tuple[PriceBreak, ...]
    #: None: the supplier has not said.
    lead_days: int | None
    valid_until: date | None = None
    supplier_code: str = ""


@dataclass(frozen=True)
class Supplier:
    code: str
    name: str
    address: str = ""
    contact: str = ""
    delivery_charge: Decimal = Decimal(0)
    #: Goods value from which delivery is free; None: never.
    free_delivery_from: Decimal | None = None
    minimum_order: Decimal = Decimal(0)


@dataclass(frozen=True)
class Buyer:
    name: str
    address: str
    contact: str
    currency: str
    units: UnitSystem
    tax_name: str = ""
    tax_percent: Decimal = Decimal(0)
    #: How numbers are written in what is worked out; nothing that is planned follows from it.
    decimal_sign: str = field(default=".", compare=False)
    #: Prices of suppliers have the tax in them; else it is added to them.
    prices_include_tax: bool = False

    @property
    def style(self) -> NumberStyle:
        return number_style(self.decimal_sign, self.units)

    def tax_on(self, material: Material) -> Decimal:
        """Percent, its own where the material has one."""
        return self.tax_percent if material.tax_percent is None else material.tax_percent


@dataclass(frozen=True)
class Season:
    """One plan's whole input. The same season always gives the same plan."""

    as_of: date
    buyer: Buyer
    delivery_site: str
    sites: tuple[Site, ...]
    houses: tuple[House, ...]
    materials: tuple[Material, ...]
    lots: tuple[Lot, ...]
    suppliers: tuple[Supplier, ...]
    offers: tuple[Offer, ...]
    kerf: Decimal
    keep_from: Decimal
    in_house: tuple[InHouse, ...] = ()
