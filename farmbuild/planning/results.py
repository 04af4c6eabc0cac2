"""What a season plan says: plain values, ready to draw, print, export or store as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.measure import TAPE_STEP, UnitSystem


@dataclass(frozen=True)
class TakeoffRow:
    """One line of what a house needs.

    ``length`` is None for counted things. ``whole`` sticks keep their swage and are never cut before use;
    ``trim`` is what is sawn off the plain end of the last stick of a joined run (0 when nothing is).
    ``working`` says in words, with the numbers in, how the quantity was worked out.
    """

    house: str
    purpose: str
    material: str
    length: Decimal | None
    quantity: int
    unit: str
    whole: bool
    working: str
    trim: Decimal = Decimal(0)
    trims: int = 0
    #: Of joined runs: the length of one, how far a stick slides into the next, and how many there are in the house.
    #: Sticks of any length serve.
    run: Decimal = Decimal(0)
    slide: Decimal = Decimal(0)
    runs: int = 0


@dataclass(frozen=True)
class Allocation:
    """Whole sticks or counted things taken from a lot for one row of one house."""

    lot: str
    place: str
    material: str
    length: Decimal | None
    quantity: int
    house: str
    purpose: str


@dataclass(frozen=True)
class CutPiece:
    length: Decimal
    house: str
    purpose: str


#: Nobody saws off less than a tape shows: the sixteenth of an inch.
LEFT_ON = TAPE_STEP[UnitSystem.IMPERIAL]


@dataclass(frozen=True)
class CutLayout:
    """One stick's cuts, made ``times`` times. ``lot`` is "" when the stick has to be bought."""

    material: str
    lot: str
    place: str
    stick_length: Decimal
    pieces: tuple[CutPiece, ...]
    times: int
    remainder: Decimal
    need_by: date

    @property
    def uncut(self) -> bool:
        """Used as it is: one piece, and no more behind it than nobody saws off."""
        return len(self.pieces) == 1 and self.stick_length - self.pieces[0].length <= LEFT_ON


@dataclass(frozen=True)
class CutPlanSummary:
    """How good the cut plan of one material is: cost of the sticks used against the proven least."""

    material: str
    kerf: Decimal
    cost: Decimal
    bound: Decimal
    optimal: bool
    method: str


@dataclass(frozen=True)
class Unmet:
    """A piece that no stick, in the yard or on offer, can give, or a thing that nobody sells."""

    material: str
    length: Decimal | None
    quantity: int
    house: str
    purpose: str
    reason: str


@dataclass(frozen=True)
class AlreadyThere:
    """Of a take-off row, what its house has already."""

    house: str
    purpose: str
    material: str
    length: Decimal | None
    quantity: int


@dataclass(frozen=True)
class TooMuch:
    """What a house has and does not need; it can be put back, unless it is ``bent``."""

    house: str
    purpose: str
    material: str
    length: Decimal | None
    quantity: int
    offcut: bool
    bent: bool


@dataclass(frozen=True)
class Shortfall:
    """What has to be bought, before packs: by material, stick length and the day it is needed."""

    material: str
    length: Decimal | None
    quantity: int
    need_by: date


@dataclass(frozen=True)
class OrderLine:
    offer: str
    supplier_code: str
    material: str
    description: str
    length: Decimal | None
    needed: int
    pack: int
    packs: int
    quantity: int
    unit_price: Decimal
    line_total: Decimal
    tax: Decimal
    need_by: date
    late_days: int
    #: By which its tax was worked out; None in plans stored before materials had one of their own: the buyer's.
    tax_percent: Decimal | None = None


@dataclass(frozen=True)
class Order:
    """What to buy from one supplier. ``order_by``: the last day on which every line still comes in time."""

    supplier: str
    delivery_site: str
    lines: tuple[OrderLine, ...]
    goods: Decimal
    delivery: Decimal
    tax: Decimal
    total: Decimal
    order_by: date
    need_by: date
    weight_kg: Decimal | None
    #: Prices, line totals and goods have the tax in them, so it is no part of the sum.
    tax_included: bool = False


@dataclass(frozen=True)
class FromCommon:
    """What is fetched from the common stock of a cooperative: no order to a supplier, no delivery, no lead time."""

    lot: str
    cooperative: str
    material: str
    length: Decimal | None
    quantity: int
    unit_price: Decimal
    amount: Decimal


@dataclass(frozen=True)
class BuyingSummary:
    """Landed cost of all orders against its proven lower bound."""

    cost: Decimal
    bound: Decimal
    optimal: bool


@dataclass(frozen=True)
class TogetherSummary:
    """All orders and the yard's sticks that are cut, at what these are charged, against a proven lower bound.

    The bound holds over all offers, cuts and price breaks together; what is given is said in ``season/together.py``.
    """

    cost: Decimal
    bound: Decimal
    optimal: bool


@dataclass(frozen=True)
class Leftover:
    """What is still there when every house of the plan stands. ``source`` is a lot, "bought" or "cut"."""

    material: str
    length: Decimal | None
    quantity: int
    place: str
    lot: str
    source: str
    offcut: bool
    value: Decimal


@dataclass(frozen=True)
class Balance:
    """Where everything of one material went: lengths in mm when ``by_length``, else counts.

    stock + bought = used + kerf + leftover + scrap, exactly. ``kerf`` is what the saw turns to dust. What is taken of
    common stock is bought.
    """

    material: str
    by_length: bool
    stock: Decimal
    bought: Decimal
    used: Decimal
    kerf: Decimal
    leftover: Decimal
    scrap: Decimal


@dataclass(frozen=True)
class SeasonPlan:
    takeoff: tuple[TakeoffRow, ...]
    allocations: tuple[Allocation, ...]
    layouts: tuple[CutLayout, ...]
    cut_summaries: tuple[CutPlanSummary, ...]
    shortfalls: tuple[Shortfall, ...]
    orders: tuple[Order, ...]
    buying: BuyingSummary
    leftovers: tuple[Leftover, ...]
    unmet: tuple[Unmet, ...]
    leftover_value: Decimal
    scrap_value: Decimal
    balances: tuple[Balance, ...] = ()
    already_there: tuple[AlreadyThere, ...] = ()
    too_much: tuple[TooMuch, ...] = ()
    #: None: made by a version that chose cuts and offers one after the other.
    together: TogetherSummary | None = None
    #: By the name of the lot; it is paid beside the orders.
    from_common: tuple[FromCommon, ...] = ()
