"""What a season plan is worked out from: plain values, no database.

Lengths are exact Decimal millimetres (six places), money is Decimal in the buyer's currency, quantities are
whole numbers. Materials, sites, suppliers, lots and offers are named by their code, which is unique in one
season.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum

from farmbuild.measure import UnitSystem


class Kind(StrEnum):
    """What a material is; the first four are bought by length and cut, the rest are counted."""

    TUBE = "tube"
    LUMBER = "lumber"
    FILM = "film"
    CHANNEL = "channel"
    FASTENER = "fastener"
    ANCHOR = "anchor"
    HARDWARE = "hardware"


BY_LENGTH = frozenset({Kind.TUBE, Kind.LUMBER, Kind.FILM, Kind.CHANNEL})


@dataclass(frozen=True)
class Material:
    code: str
    name: str
    kind: Kind
    #: Film: width of the roll. Lumber: dressed width. Tube: outside diameter.
    width: Decimal | None = None
    #: Lumber: dressed thickness. Tube: wall.
    thickness: Decimal | None = None
    #: A tube with one end reduced so that it slides into the next stick.
    swaged: bool = False

    @property
    def by_length(self) -> bool:
        return self.kind in BY_LENGTH


@dataclass(frozen=True)
class Recipe:
    """How one hoop is made: sticks joined at the swage and bent on one centreline radius."""

    name: str
    tube: str
    stick_length: Decimal
    sticks: int
    insertion: Decimal
    radius: Decimal
    first_mark: Decimal
    pitch: Decimal
    stop_gap: Decimal


@dataclass(frozen=True)
class Doors:
    count: int = 0
    width: Decimal = Decimal(0)
    height: Decimal = Decimal(0)


@dataclass(frozen=True)
class HouseSpec:
    """Everything that decides what one house is made of. A material code of "": the house has none."""

    post_span: Decimal
    length: Decimal
    spacing_wanted: Decimal
    recipe: Recipe
    post_material: str = ""
    post_length: Decimal = Decimal(0)
    post_depth: Decimal = Decimal(0)
    purlin_material: str = ""
    purlin_stick_length: Decimal = Decimal(0)
    purlin_insertion: Decimal = Decimal(0)
    #: 0 or 1.
    ridge_purlins: int = 0
    #: Over both sides together, so an even number.
    side_purlins: int = 0
    hip_board_material: str = ""
    #: On each side, like the base boards.
    hip_board_rows: int = 0
    hip_board_lengths: tuple[Decimal, ...] = ()
    base_board_material: str = ""
    base_board_rows: int = 0
    base_board_lengths: tuple[Decimal, ...] = ()
    #: Framed end walls: 1 is the front, 2 front and back.
    end_walls: int = 0
    end_frame_material: str = ""
    end_stud_spacing: Decimal = Decimal(0)
    front_doors: Doors = field(default_factory=Doors)
    back_doors: Doors = field(default_factory=Doors)
    brace_material: str = ""
    brace_count: int = 0
    brace_length: Decimal = Decimal(0)
    film_material: str = ""
    film_layers: int = 0
    film_side_allowance: Decimal = Decimal(0)
    film_end_allowance: Decimal = Decimal(0)
    channel_material: str = ""
    channel_runs: int = 0
    channel_on_ends: bool = False
    screw_material: str = ""
    screws_per_joint: int = 0
    bolt_material: str = ""
    bolts_per_crossing: int = 0
    anchor_material: str = ""
    anchor_count: int = 0


@dataclass(frozen=True)
class House:
    ref: str
    name: str
    site: str
    need_date: date
    spec: HouseSpec


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
    lead_days: int
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
