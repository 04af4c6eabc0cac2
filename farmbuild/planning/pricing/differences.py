"""Why a job cost what it did and not what was quoted, by cause; the causes add up to the whole difference.

Of each line the difference of quantity is what was used at the standard price less what was quoted at it, that of
price is what was paid less what was used at the standard price, each amount rounded to coins first: so both add up to
the difference to the coin. Usual in standard cost accounting (price and quantity variance of materials, rate and
efficiency variance of labour).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from farmbuild.measure import part_total


class Cause(StrEnum):
    """What makes a difference."""

    CHANGE_ORDER = "change order"
    MATERIAL_PRICE = "material price"
    MATERIAL_QUANTITY = "material quantity"
    HOURS = "labour hours"
    RATE = "labour rate"
    OVERHEAD = "overhead"
    EQUIPMENT = "equipment"


@dataclass(frozen=True)
class Line:
    """One material or one step. ``quoted`` and ``used``: pieces or hours. ``standard``: the price of one that was
    quoted, or the standard one where nothing was. ``paid``: what was used came to that, in coins.

    ``changed``: the line is of a change order.
    """

    name: str
    quoted: Decimal
    used: Decimal
    standard: Decimal
    paid: Decimal
    changed: bool = False


@dataclass(frozen=True)
class Differences:
    """Money by cause: above 0 it cost more than was quoted. Their sum is ``actual`` less ``quoted``."""

    quoted: Decimal
    actual: Decimal
    by_cause: dict[Cause, Decimal]
    #: (of quantity, of price) of each line.
    materials: tuple[tuple[Decimal, Decimal], ...]
    work: tuple[tuple[Decimal, Decimal], ...]


def differences(
    materials: Sequence[Line],
    work: Sequence[Line],
    equipment: Sequence[Line],
    *,
    overhead: Decimal,
    currency: str,
    net: bool = False,
) -> Differences:
    """``overhead``: money an hour, in the quote and as the hours worked absorb it. It is rounded once each for what was
    quoted, changed and worked. Raises ValueError at a figure below 0.

    ``net``: figures are what is left of more than one: a change takes away, goods come back, a supplier credits. Then
    prices alone are 0 or more.
    """
    lines = (*materials, *work, *equipment)
    figures = [line.standard for line in lines]
    if not net:
        figures += [figure for line in lines for figure in (line.quoted, line.used, line.paid)]
    if min(overhead, *figures, Decimal(0)) < 0:
        raise ValueError("quantities, prices and amounts are 0 or more")
    split = {
        room: tuple(_split(line, currency) for line in rows)
        for room, rows in (("materials", materials), ("work", work))
    }

    def hours(*, changed: bool) -> Decimal:
        return sum((line.quoted for line in work if line.changed is changed), Decimal(0))

    def quoted(*, changed: bool) -> Decimal:
        rows = (part_total(line.quoted, line.standard, currency) for line in lines if line.changed is changed)
        return sum(rows, Decimal(0)) + part_total(hours(changed=changed), overhead, currency)

    worked = part_total(sum((line.used for line in work), Decimal(0)), overhead, currency)
    expected = sum((part_total(hours(changed=changed), overhead, currency) for changed in (False, True)), Decimal(0))
    more_equipment = (line.paid - part_total(line.quoted, line.standard, currency) for line in equipment)
    by_cause = {
        Cause.CHANGE_ORDER: quoted(changed=True),
        Cause.MATERIAL_PRICE: sum((of_price for _, of_price in split["materials"]), Decimal(0)),
        Cause.MATERIAL_QUANTITY: sum((of_quantity for of_quantity, _ in split["materials"]), Decimal(0)),
        Cause.HOURS: sum((of_quantity for of_quantity, _ in split["work"]), Decimal(0)),
        Cause.RATE: sum((of_price for _, of_price in split["work"]), Decimal(0)),
        Cause.OVERHEAD: worked - expected,
        Cause.EQUIPMENT: sum(more_equipment, Decimal(0)),
    }
    actual = sum((line.paid for line in lines), Decimal(0)) + worked
    return Differences(quoted(changed=False), actual, by_cause, split["materials"], split["work"])


def _split(line: Line, currency: str) -> tuple[Decimal, Decimal]:
    at_standard = part_total(line.used, line.standard, currency)
    return at_standard - part_total(line.quoted, line.standard, currency), line.paid - at_standard
