"""About what a house costs, in an instant: for each thing the offer that is cheapest by itself, all bought new.

A season plan finds what several houses, the yard and the suppliers' terms make of it together; this only says how large
the sum is while a house is being drawn.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.planning.house.parts.purlins import joined_sticks
from farmbuild.planning.house.shape import ceil_ratio
from farmbuild.planning.inputs import Offer
from farmbuild.planning.materials import Material
from farmbuild.planning.netting.market import break_price
from farmbuild.planning.results import TakeoffRow


@dataclass(frozen=True)
class RoughCost:
    """``amount`` is of what has a price, before delivery; ``unpriced``: codes of materials that no offer serves whole,
    in the order of the take-off. ``priced``: how many materials are in it."""

    amount: Decimal
    priced: int
    unpriced: tuple[str, ...]


def rough_cost(
    rows: Iterable[TakeoffRow], offers: Iterable[Offer], materials: Mapping[str, Material], *, kerf: Decimal
) -> RoughCost:
    """Each group of rows that one kind of stick serves takes its cheapest offer; packs are filled and breaks reached by
    all that one offer sells."""
    known: dict[str, list[Offer]] = {}
    for offer in offers:
        if offer.breaks:
            known.setdefault(offer.material, []).append(offer)
    bought: Counter[Offer] = Counter()
    served: dict[str, bool] = {}
    for material, of_group in _groups(rows, materials).items():
        code = material[0]
        best: tuple[Decimal, str, int, Offer] | None = None
        for offer in known.get(code, ()):
            pieces = _pieces(of_group, offer, materials[code], kerf)
            if pieces is not None:
                found = (pieces * break_price(offer, pieces), offer.ref, pieces, offer)
                best = min(best, found) if best else found
        served[code] = served.get(code, True) and best is not None
        if best:
            bought[best[3]] += best[2]
    amount = Decimal(0)
    for offer, pieces in bought.items():
        packed = -(-pieces // offer.pack) * offer.pack
        amount += packed * break_price(offer, packed)
    return RoughCost(amount, sum(served.values()), tuple(code for code, all_of_it in served.items() if not all_of_it))


#: Material; the length of whole sticks, None for what is cut, joined or counted.
_Key = tuple[str, Decimal | None]


def _groups(rows: Iterable[TakeoffRow], materials: Mapping[str, Material]) -> dict[_Key, list[TakeoffRow]]:
    found: dict[_Key, list[TakeoffRow]] = {}
    for row in rows:
        whole = row.whole and row.length is not None and not row.runs
        found.setdefault((row.material, row.length if whole else None), []).append(row)
    return found


def _pieces(rows: list[TakeoffRow], offer: Offer, material: Material, kerf: Decimal) -> int | None:
    """How many pieces of the offer serve the rows; None where it cannot."""
    if not material.by_length:
        return sum(row.quantity for row in rows) if offer.length is None else None
    stick = offer.length
    if stick is None:
        return None
    total, cut = 0, Counter[Decimal]()
    for row in rows:
        assert row.length is not None
        if row.runs:
            if stick <= row.slide:
                return None
            total += row.runs * joined_sticks(row.run, stick, row.slide)
        elif row.whole:
            if stick != row.length:
                return None
            total += row.quantity
        else:
            cut[row.length] += row.quantity
    if material.butted:
        run = sum((length * count for length, count in cut.items()), Decimal(0))
        return total + (ceil_ratio(run, stick) if run else 0)
    sticks = _sticks(cut, stick, kerf)
    return None if sticks is None else total + sticks


def _sticks(cut: Counter[Decimal], stick: Decimal, kerf: Decimal) -> int | None:
    """Filled one after another, the longest pieces first; None where one is longer than the stick."""
    left = dict(sorted(((length, count) for length, count in cut.items() if count), reverse=True))
    if any(length > stick for length in left):
        return None
    sticks = 0
    while left:
        room, pattern = stick, {}
        for length, count in left.items():
            # The last cut of a stick may take less than the saw does.
            fit = min(count, int((room + kerf) // (length + kerf)))
            if fit:
                pattern[length] = fit
                room -= fit * (length + kerf)
        times = min(left[length] // fit for length, fit in pattern.items())
        sticks += times
        for length, fit in pattern.items():
            left[length] -= times * fit
            if not left[length]:
                del left[length]
    return sticks
