"""What is on hand while it is given out, lot by lot."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal

from farmbuild.planning.inputs import Lot


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sorts LOT-2 before LOT-10."""
    parts = re.findall(r"\d+|\D+", text)
    return tuple((0, int(p), p) if p.isdecimal() else (1, 0, p) for p in parts)


def _price(lot: Lot) -> Decimal:
    """What is paid to take one: nothing of the buyer's own."""
    return lot.unit_cost if lot.common else Decimal(0)


class Yard:
    """Quantities left of each lot. Lots are kept in the order of their refs: the oldest number first."""

    def __init__(self, lots: Iterable[Lot]) -> None:
        self.lots = tuple(sorted(lots, key=lambda lot: natural_key(lot.ref)))
        self.left = {lot.ref: lot.quantity for lot in self.lots}
        self._piles: dict[tuple[str, Decimal | None], list[Lot]] = {}
        self._by_material: dict[str, list[Lot]] = {}
        for lot in self.lots:
            self._by_material.setdefault(lot.material, []).append(lot)
            if not lot.offcut:
                self._piles.setdefault((lot.material, lot.length), []).append(lot)

    def of(self, material: str) -> Iterator[Lot]:
        """Lots of a material with anything left, offcuts too."""
        return (lot for lot in self.every(material) if self.left[lot.ref] > 0)

    def every(self, material: str) -> Sequence[Lot]:
        """Lots of a material, used up or not."""
        return self._by_material.get(material, ())

    def take(
        self,
        material: str,
        length: Decimal | None,
        quantity: int,
        site: str,
        day: date,
        pays: Callable[[Lot], bool] = lambda _: True,
    ) -> list[tuple[Lot, int]]:
        """Give out up to ``quantity`` whole ones by ``day``: what is there before what is on its way, lots on
        the house's site first, then by ref. Common stock comes last, the cheapest first, and where it ``pays``."""
        pile = [lot for lot in self._piles.get((material, length), ()) if self.left[lot.ref] > 0]
        self._piles[material, length] = pile
        ready = [lot for lot in pile if lot.available_from is None or lot.available_from <= day]
        ready = [lot for lot in ready if not lot.common or pays(lot)]
        ready.sort(key=lambda lot: (_price(lot), lot.available_from is not None, not lot.site or lot.site != site))
        taken = []
        for lot in ready:
            if not quantity:
                break
            part = min(quantity, self.left[lot.ref])
            self.remove(lot.ref, part)
            taken.append((lot, part))
            quantity -= part
        return taken

    def remove(self, ref: str, quantity: int) -> None:
        if not 0 <= quantity <= self.left[ref]:
            raise ValueError(f"lot {ref} has {self.left[ref]} left, not {quantity}")
        self.left[ref] -= quantity
