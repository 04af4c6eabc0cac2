"""The least that a few pieces can cost, by trying every number of sticks of each length that is sold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import product

from tests.outside.orders import price
from tests.outside.typed import coins

Counts = tuple[int, ...]


def fillings(stick: Fraction, pieces: Sequence[Fraction], kerf: Fraction) -> list[Counts]:
    """How many of each piece one stick gives, in every way; a last piece may end with the stick."""
    found: list[Counts] = []

    def fill(taken: Counts, room: Fraction) -> None:
        n = len(taken)
        if n == len(pieces):
            found.append(taken)
            return
        count = 0
        while count == 0 or pieces[n] * count + kerf * count <= room:
            fill((*taken, count), room - (pieces[n] + kerf) * count)
            count += 1

    fill((), stick + kerf)
    return found


def enough(sticks: Mapping[Fraction, int], wanted: Counts, pieces: Sequence[Fraction], kerf: Fraction) -> bool:
    """Whether so many sticks give all pieces: what may still be wanted after each, all ways kept."""
    left = {wanted}
    for stick, count in sticks.items():
        ways = fillings(stick, pieces, kerf)
        for _ in range(count):
            left = {tuple(max(0, a - b) for a, b in zip(still, way, strict=True)) for still in left for way in ways}
    return any(not any(still) for still in left)


def least_cost(
    offers: Sequence[tuple[Mapping[str, str], Fraction]],
    wanted: Counts,
    pieces: Sequence[Fraction],
    kerf: Fraction,
    supplier: Mapping[str, str],
    more: int,
) -> Decimal:
    """Goods and delivery of one supplier's order; ``more`` sticks of each than there are pieces may be bought."""
    most = sum(wanted) + more
    best = None
    packs = [[n for n in range(most + 1) if n % int(offer["pack"]) == 0] for offer, _ in offers]
    choices = sorted(
        (
            sum(
                (coins(count * price(offer, count)) for (offer, _), count in zip(offers, counts, strict=True) if count),
                Decimal(0),
            ),
            counts,
        )
        for counts in product(*packs)
    )
    free = Decimal(supplier["free_delivery_from"]) if supplier.get("free_delivery_from") else None
    for goods, counts in choices:
        total = goods + (0 if free is not None and goods >= free else coins(Decimal(supplier["delivery_charge"])))
        if best is not None and total >= best:
            continue
        sticks = {length: min(count, sum(wanted)) for (_, length), count in zip(offers, counts, strict=True)}
        if enough(sticks, wanted, pieces, kerf):
            best = total
    assert best is not None
    return best
