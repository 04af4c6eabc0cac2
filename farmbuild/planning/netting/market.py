"""The offers that still hold, by thing and by the day they arrive."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from farmbuild.planning.inputs import Offer

#: What can be ordered: a material in one length; no length for counted things.
Item = tuple[str, Decimal | None]


def break_price(offer: Offer, quantity: int) -> Decimal:
    """Price a piece when so many are ordered; the first price below the first break."""
    price = offer.breaks[0].unit_price
    for step in offer.breaks:
        if quantity >= step.from_quantity:
            price = step.unit_price
    return price


@dataclass(frozen=True)
class Market:
    """Offers by item, in the order of their refs. Orders are taken to be placed on ``as_of``."""

    as_of: date
    offers: dict[Item, tuple[Offer, ...]]
    lengths: dict[str, tuple[Decimal, ...]]

    @classmethod
    def of(cls, offers: Iterable[Offer], as_of: date) -> Market:
        held: dict[Item, list[Offer]] = {}
        for offer in sorted(offers, key=lambda o: (o.supplier, o.ref)):
            if offer.breaks and (offer.valid_until is None or offer.valid_until >= as_of):
                held.setdefault((offer.material, offer.length), []).append(offer)
        lengths: dict[str, list[Decimal]] = {}
        for material, length in held:
            if length is not None:
                lengths.setdefault(material, []).append(length)
        return cls(
            as_of,
            {item: tuple(found) for item, found in held.items()},
            {material: tuple(sorted(found)) for material, found in lengths.items()},
        )

    def arrival(self, offer: Offer) -> date | None:
        """None where nobody knows: such an offer is left out for no day, and shuts out no other that comes late."""
        return None if offer.lead_days is None else self.as_of + timedelta(days=offer.lead_days)

    def there_by(self, offer: Offer, day: date) -> bool:
        return (self.arrival(offer) or day) <= day

    def sells(self, item: Item) -> bool:
        return item in self.offers

    def first_arrival(self, item: Item) -> date:
        """Of the offers that say when they come; of none that does the day of the orders."""
        return self.first_of(self.offers[item])

    def first_of(self, offers: Iterable[Offer]) -> date:
        return min((day for offer in offers if (day := self.arrival(offer))), default=self.as_of)

    def in_time(self, item: Item, day: date) -> tuple[Offer, ...]:
        """Offers that arrive by ``day``; when none does, those that arrive first."""
        offers = self.offers.get(item, ())
        if not offers:
            return ()
        last = max(day, self.first_arrival(item))
        return tuple(offer for offer in offers if self.there_by(offer, last))

    def stick_lengths(self, material: str, day: date) -> tuple[Decimal, ...]:
        """Lengths on offer that arrive by ``day``; when none does, those that arrive first."""
        lengths = self.lengths.get(material, ())
        if not lengths:
            return ()
        first = {length: self.first_arrival((material, length)) for length in lengths}
        last = max(day, min(first.values()))
        return tuple(length for length in lengths if first[length] <= last)

    def beaten_by(self, item: Item, price: Decimal, day: date, quantity: int) -> bool:
        """Whether nothing on offer costs less than ``price`` when so many are ordered."""
        return not self.sells(item) or price <= self.price(item, day, quantity)

    def price(self, item: Item, day: date, quantity: int) -> Decimal:
        """The least price a piece among the offers in time, at the break that ``quantity`` reaches."""
        return min(break_price(offer, max(quantity, offer.pack)) for offer in self.in_time(item, day))
