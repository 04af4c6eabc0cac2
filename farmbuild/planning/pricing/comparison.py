"""A job as it was quoted, changed and built, line by line: what was used is put to the line that foresaw it.

Materials are found by what they are, work by its step, equipment by its name. What nobody quoted stands at a standard
price. A charge, such as a delivery, that nobody was billed by itself is in what the goods cost: as much of it counts as
used as of the goods that were foreseen. All amounts are coins; each line's differences add up to what it cost less what
it was quoted and changed at.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from farmbuild.measure import part_total, share_out
from farmbuild.planning.pricing.differences import Differences, Line, differences

NOTHING = Decimal(0)
_THOUSANDTH = Decimal("0.001")


class Room(StrEnum):
    MATERIALS = "materials"
    WORK = "work"
    EQUIPMENT = "equipment"


#: A thing in its room: a material by code and length, a step, a name.
Key = tuple[Room, str]


@dataclass(frozen=True)
class Planned:
    """A line of the quote, or of a change (``changed``; below 0 it takes away). ``price`` of one.

    ``charge``: it comes with goods.
    """

    key: Key
    name: str
    quantity: Decimal
    price: Decimal
    changed: bool = False
    charge: bool = False


@dataclass(frozen=True)
class Used:
    """All that was used of one thing. ``standard``: price of one where nobody quoted it; None: what was paid."""

    key: Key
    name: str
    quantity: Decimal
    amount: Decimal
    standard: Decimal | None = None


@dataclass
class Row:
    """One thing: pieces, hours or days, and coins. ``standard`` of one; ``foreseen``: it was quoted or changed.

    ``within``: a charge that is in what the goods cost.
    """

    key: Key
    name: str
    standard: Decimal
    foreseen: bool
    quoted: Decimal = NOTHING
    changed: Decimal = NOTHING
    used: Decimal = NOTHING
    quoted_amount: Decimal = NOTHING
    changed_amount: Decimal = NOTHING
    paid: Decimal = NOTHING
    of_quantity: Decimal = NOTHING
    of_price: Decimal = NOTHING
    within: bool = False

    @property
    def left(self) -> Decimal:
        """What is foreseen and not used yet."""
        return max(NOTHING, self.quoted + self.changed - self.used)

    @property
    def difference(self) -> Decimal:
        return self.paid - self.quoted_amount - self.changed_amount


@dataclass(frozen=True)
class Comparison:
    """``overhead``: of what was quoted, changed and worked. ``rows`` and it make up ``differences``."""

    rows: tuple[Row, ...]
    overhead: tuple[Decimal, Decimal, Decimal]
    differences: Differences

    def of(self, room: Room) -> list[Row]:
        return [row for row in self.rows if row.key[0] == room]


@dataclass
class _Thing:
    planned: list[Planned] = field(default_factory=list)
    used: Used | None = None

    @property
    def foreseen(self) -> Decimal:
        return sum((line.quantity for line in self.planned), NOTHING)

    @property
    def within(self) -> bool:
        return self.used is None and any(line.charge for line in self.planned)


def compare(planned: Sequence[Planned], used: Iterable[Used], *, overhead: Decimal, currency: str) -> Comparison:
    """``overhead``: money an hour. ``used`` has each thing once. Raises ValueError at prices below 0."""
    things: dict[Key, _Thing] = {}
    for line in planned:
        things.setdefault(line.key, _Thing()).planned.append(line)
    for one in used:
        things.setdefault(one.key, _Thing()).used = one
    within = {key for key, thing in things.items() if thing.within}
    part = _part_used(thing for key, thing in things.items() if key[0] == Room.MATERIALS and key not in within)
    for key in within:
        name, quantity = things[key].planned[0].name, (things[key].foreseen * part).quantize(_THOUSANDTH)
        things[key].used = Used(key, name, quantity, NOTHING)
    lines: dict[Key, list[Line]] = {key: _lines(thing, currency) for key, thing in things.items()}
    of_room = {room: [line for key, some in lines.items() if key[0] == room for line in some] for room in Room}
    found = differences(
        of_room[Room.MATERIALS],
        of_room[Room.WORK],
        of_room[Room.EQUIPMENT],
        overhead=overhead,
        currency=currency,
        net=True,
    )
    rows = tuple(_row(key, thing, lines[key], currency, key in within) for key, thing in things.items())
    quoted, changed, worked = (part_total(hours, overhead, currency) for hours in _hours(of_room[Room.WORK]))
    return Comparison(rows, (quoted, changed, worked), found)


def _part_used(goods: Iterable[_Thing]) -> Decimal:
    """Of the goods that were foreseen, at their prices there, what part is used: from 0 to 1."""
    foreseen = used = NOTHING
    for thing in goods:
        if thing.planned and thing.foreseen > 0:
            price = thing.planned[0].price
            foreseen += thing.foreseen * price
            used += min(max(NOTHING, thing.used.quantity if thing.used else NOTHING), thing.foreseen) * price
    return used / foreseen if foreseen else NOTHING


def _hours(work: Sequence[Line]) -> tuple[Decimal, Decimal, Decimal]:
    def total(rows: Iterable[Decimal]) -> Decimal:
        return sum(rows, NOTHING)

    return (
        total(line.quoted for line in work if not line.changed),
        total(line.quoted for line in work if line.changed),
        total(line.used for line in work),
    )


def _lines(thing: _Thing, currency: str) -> list[Line]:
    """Of what was used each line gets as much as it foresaw, in their order, and the last of them the rest."""
    used = thing.used
    if used and not thing.planned:
        standard = used.standard
        if standard is None:
            standard = used.amount / used.quantity if used.quantity > 0 and used.amount >= 0 else NOTHING
        return [Line(used.name, NOTHING, used.quantity, standard, used.amount)]
    quantity, amount = (used.quantity, used.amount) if used else (NOTHING, NOTHING)
    taking = [at for at, line in enumerate(thing.planned) if line.quantity >= 0] or [0]
    shares = dict.fromkeys(range(len(thing.planned)), NOTHING)
    left = quantity
    for at in taking[:-1]:
        shares[at] = max(NOTHING, min(left, thing.planned[at].quantity))
        left -= shares[at]
    shares[taking[-1]] += left
    coins = dict.fromkeys(shares, NOTHING)
    if any(shares[at] < 0 for at in taking) or not any(shares.values()):
        coins[taking[0]] = amount
    else:
        parts = share_out(amount, [shares[at] for at in taking], currency)
        coins |= dict(zip(taking, parts, strict=True))
    return [
        Line(line.name, line.quantity, shares[at], line.price, coins[at], line.changed)
        for at, line in enumerate(thing.planned)
    ]


def _row(key: Key, thing: _Thing, lines: Sequence[Line], currency: str, within: bool) -> Row:
    first = lines[0]
    row = Row(key, first.name, first.standard, bool(thing.planned), within=within)
    for line in lines:
        amount = part_total(line.quoted, line.standard, currency)
        at_standard = part_total(line.used, line.standard, currency)
        if line.changed:
            row.changed += line.quoted
            row.changed_amount += amount
        else:
            row.quoted += line.quoted
            row.quoted_amount += amount
        row.used += line.used
        row.paid += line.paid
        row.of_quantity += at_standard - amount
        row.of_price += line.paid - at_standard
    return row


def to_come(
    comparison: Comparison,
    *,
    ordered: Mapping[Key, tuple[Decimal, Decimal]],
    overhead: Decimal,
    currency: str,
) -> Decimal:
    """What is foreseen and not used yet, at its standard price; ``ordered``: quantity and amount on its way, at theirs.

    Orders beyond what is foreseen are to come too. What a change takes away under a name that nothing was quoted by is
    off what is to come of its room, as far as that goes.
    """
    total = sum((amount for _, amount in ordered.values()), NOTHING)
    hours = NOTHING
    rooms: dict[Room, Decimal] = {}
    for row in comparison.rows:
        left = max(NOTHING, row.left - ordered.get(row.key, (NOTHING, NOTHING))[0])
        left += min(NOTHING, row.quoted + row.changed)
        room = row.key[0]
        rooms[room] = rooms.get(room, NOTHING) + part_total(left, row.standard, currency)
        hours += left if room == Room.WORK else NOTHING
    total += sum((max(NOTHING, amount) for amount in rooms.values()), NOTHING)
    return total + part_total(max(NOTHING, hours), overhead, currency)
