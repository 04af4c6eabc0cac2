"""What is still there when every house stands, its value, and where everything of each material went.

A remainder, or what is sawn off a joined run, is worth its share by length of what its stick cost; from
keep_from up it goes back to stock as an offcut, below it is scrap. The saw's dust is counted apart and
worth nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from farmbuild.measure.money import round_money
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Lot
from farmbuild.planning.materials import Material
from farmbuild.planning.netting.market import Item
from farmbuild.planning.netting.plan import Netting
from farmbuild.planning.netting.yard import Yard
from farmbuild.planning.results import Balance, CutLayout, Leftover, Order, TakeoffRow

NONE = Decimal(0)
ONE = Decimal(1)


def size(length: Decimal | None) -> Decimal:
    """What one counts for in a balance: its length, or 1."""
    return ONE if length is None else length


@dataclass
class _Book:
    """One material's account."""

    stock: Decimal = NONE
    bought: Decimal = NONE
    used: Decimal = NONE
    kerf: Decimal = NONE
    leftover: Decimal = NONE
    scrap: Decimal = NONE


class _Prices:
    """What one of something cost: its lot's cost, or the average of the order lines."""

    def __init__(self, lots: Iterable[Lot], orders: Iterable[Order]) -> None:
        self.lots = {lot.ref: lot.unit_cost for lot in lots}
        sums: dict[Item, tuple[Decimal, int]] = {}
        for order in orders:
            for line in order.lines:
                paid, count = sums.get((line.material, line.length), (NONE, 0))
                sums[line.material, line.length] = (paid + line.line_total, count + line.quantity)
        self.bought = {item: paid / count for item, (paid, count) in sums.items()}

    def of(self, item: Item, lot: str) -> Decimal:
        return self.lots[lot] if lot else self.bought[item]


@dataclass
class Remains:
    leftovers: tuple[Leftover, ...]
    scrap_value: Decimal
    balances: tuple[Balance, ...]

    @property
    def leftover_value(self) -> Decimal:
        return sum((row.value for row in self.leftovers), NONE)


@dataclass
class _Account:
    prices: _Prices
    kerf: Decimal
    keep_from: Decimal
    delivery_site: str
    currency: str
    books: dict[str, _Book] = field(default_factory=dict)
    rows: list[Leftover] = field(default_factory=list)
    #: (material, length, lot, place) of kept ends, with how many and what they are worth.
    ends: dict[tuple[str, Decimal, str, str], tuple[int, Decimal]] = field(default_factory=dict)
    scrap_value: Decimal = NONE
    #: Lots that are fetched from common stock.
    common: frozenset[str] = frozenset()

    def round(self, amount: Decimal) -> Decimal:
        return round_money(amount, self.currency)

    def book(self, material: str) -> _Book:
        return self.books.setdefault(material, _Book())

    def end(self, stick: Item, length: Decimal, times: int, lot: str, place: str) -> None:
        """So many ends of that length, each off a stick of that item."""
        if length <= 0 or not times:
            return
        material, whole = stick
        value = self.prices.of(stick, lot) * length / size(whole) * times
        if length < self.keep_from:
            self.scrap_value += value
            self.book(material).scrap += length * times
            return
        count, worth = self.ends.get((material, length, lot, place), (0, NONE))
        self.ends[material, length, lot, place] = (count + times, worth + value)
        self.book(material).leftover += length * times

    def cut(self, layout: CutLayout) -> None:
        pieces = sum((piece.length for piece in layout.pieces), NONE)
        book = self.book(layout.material)
        book.used += pieces * layout.times
        book.kerf += (layout.stick_length - pieces - layout.remainder) * layout.times
        item = (layout.material, layout.stick_length)
        place = self.delivery_site if layout.lot in self.common else layout.place or self.delivery_site
        self.end(item, layout.remainder, layout.times, layout.lot, place)

    def whole(self, row: TakeoffRow, supplied: int, lot: str, place: str) -> None:
        """Sticks or counted things of one row; ``lot`` is where its last stick came from, "" when bought."""
        book = self.book(row.material)
        trims = max(0, row.trims - (row.quantity - supplied))
        dust = min(self.kerf, row.trim)
        book.used += size(row.length) * supplied - row.trim * trims
        book.kerf += dust * trims
        self.end((row.material, row.length), row.trim - dust, trims, lot, place)

    def untouched(self, lot: Lot, left: int) -> None:
        self.book(lot.material).leftover += size(lot.length) * left
        value = self.round(lot.unit_cost * left)
        self.rows.append(Leftover(lot.material, lot.length, left, lot.place, lot.ref, "lot", lot.offcut, value))

    def ordered(self, order: Order) -> None:
        for line in order.lines:
            book = self.book(line.material)
            book.bought += size(line.length) * line.quantity
            surplus = line.quantity - line.needed
            if surplus:
                book.leftover += size(line.length) * surplus
                value = self.round(line.unit_price * surplus)
                place = self.delivery_site
                self.rows.append(Leftover(line.material, line.length, surplus, place, "", "bought", False, value))

    def finish(self, materials: Mapping[str, Material]) -> Remains:
        for (material, length, lot, place), (count, worth) in self.ends.items():
            value = self.round(worth)
            self.rows.append(Leftover(material, length, count, place, lot, "cut", True, value))
        self.rows.sort(key=lambda r: (r.material, r.offcut, -(r.length or NONE), r.source, r.lot, r.place))
        balances = tuple(
            Balance(code, materials[code].by_length, b.stock, b.bought, b.used, b.kerf, b.leftover, b.scrap)
            for code, b in sorted(self.books.items())
        )
        return Remains(tuple(self.rows), self.round(self.scrap_value), balances)


def remains(
    takeoff: Sequence[TakeoffRow],
    houses: Mapping[str, House],
    materials: Mapping[str, Material],
    yard: Yard,
    netting: Netting,
    orders: Sequence[Order],
    *,
    delivery_site: str,
    currency: str,
    kerf: Decimal,
    keep_from: Decimal,
) -> Remains:
    """Work out what is left of the yard and the orders once the plan is carried out.

    ``yard`` after netting; ``kerf`` and ``keep_from`` in mm. What is sawn off a joined run is left at its
    house's site; other bought things at the delivery site.
    """
    account = _Account(_Prices(yard.lots, orders), kerf, keep_from, delivery_site, currency)
    account.common = frozenset(lot.ref for lot in yard.lots if lot.common)
    for lot in yard.lots:
        if lot.common:
            # What is not taken stays with the cooperative.
            account.book(lot.material).bought += size(lot.length) * (lot.quantity - yard.left[lot.ref])
            continue
        account.book(lot.material).stock += size(lot.length) * lot.quantity
        if yard.left[lot.ref]:
            account.untouched(lot, yard.left[lot.ref])
    for order in orders:
        account.ordered(order)
    for layout in netting.layouts:
        account.cut(layout)
    unmet = {(u.house, u.purpose, u.material, u.length): u.quantity for u in netting.unmet}
    # A run may mix sticks of the yard with bought ones of another length.
    last_lot = {(a.house, a.purpose, a.material, a.length): a.lot for a in netting.allocations}
    bought = {(n.house, n.purpose, n.material, n.length) for n in netting.needs}
    for row in takeoff:
        if row.whole:
            key = (row.house, row.purpose, row.material, row.length)
            supplied = row.quantity - unmet.get(key, 0)
            source = "" if key in bought else last_lot.get(key, "")
            if supplied:
                account.whole(row, supplied, source, houses[row.house].site)
    return account.finish(materials)
