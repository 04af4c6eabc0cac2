"""What a farm's materials are called, how long their pieces come and what one costs, in five queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import Q

from farmbuild.catalogue.models import Material, PriceBreak
from farmbuild.catalogue.selectors import materials_of
from farmbuild.catalogue.usual import Priced
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import Lot
from farmbuild.stock.yard.matching import Named

#: As many of the latest lots as tell what pieces cost and how long they are.
_LATEST = 2000
_CENT = Decimal("0.0001")


@dataclass(frozen=True)
class Price:
    """Of one piece of that length, None of what is counted; ``seller`` is "" where it is the cost of a lot."""

    price: Decimal
    length: Decimal | None
    seller: str

    def of(self, length: Decimal | None) -> Decimal:
        if length is None or self.length is None:
            return self.price
        return (self.price * length / self.length).quantize(_CENT)


@dataclass
class Known:
    """By the key of a material. ``lengths`` are those of whole pieces."""

    materials: dict[int, Material]
    named: list[Named]
    offers: dict[int, list[Price]] = field(default_factory=dict)
    lots: dict[int, list[Price]] = field(default_factory=dict)
    lengths: dict[int, set[Decimal]] = field(default_factory=dict)

    def one_length(self, material: int) -> Decimal | None:
        """The only one in which its pieces come, as far as is known."""
        found = self.lengths.get(material, set())
        return next(iter(found)) if len(found) == 1 else None

    def best_price(self, material: int, length: Decimal | None) -> Price | None:
        """The cheapest offer of that length, else of any by its length, else what the latest such lot cost."""
        for prices in (self.offers.get(material, []), self.lots.get(material, [])[:1]):
            worth = [row for row in prices if row.price > 0 and (row.length is None) == (length is None)]
            same = [row for row in worth if row.length == length]
            if same or worth:
                return min(same or worth, key=lambda row: (row.of(length), row.seller))
        return None

    def priced(self, material: int) -> list[Priced]:
        rows = [*self.offers.get(material, []), *self.lots.get(material, [])]
        return [Priced(row.price, row.length) for row in rows]


def known_of(*, organisation: Organisation, today: date) -> Known:
    rows = list(materials_of(organisation=organisation).filter(archived_at=None))
    known = Known({row.pk: row for row in rows}, [])
    breaks = (
        PriceBreak.objects.filter(offer__organisation=organisation, from_quantity=1)
        .exclude(offer__valid_until__lt=today)
        .values_list("offer__material", "unit_price", "offer__length", "offer__supplier__name")
    )
    for material, price, length, seller in breaks:
        _add(known, known.offers, material, Price(price, length, seller))
    lots = Lot.objects.of(organisation).filter(Q(offcut=False)).order_by("-received_on", "-pk")
    for material, price, length in lots.values_list("material", "unit_cost", "length")[:_LATEST]:
        _add(known, known.lots, material, Price(price, length, ""))
    rows_bent = Material.objects.of(organisation).filter(recipes__isnull=False, recipes__archived_at=None)
    bent = list(rows_bent.values_list("pk", "recipes__stick_length"))
    for material, length in bent:
        known.lengths.setdefault(material, set()).add(length)
    used = known.offers.keys() | known.lots.keys() | {material for material, _ in bent}
    known.named = [_named(row, used) for row in rows]
    return known


def _add(known: Known, prices: dict[int, list[Price]], material: int, price: Price) -> None:
    prices.setdefault(material, []).append(price)
    if price.length is not None:
        known.lengths.setdefault(material, set()).add(price.length)


def _named(row: Material, used: Iterable[int]) -> Named:
    return Named(row.pk, row.name, row.code, row.kind, row.width, row.thickness, row.by_length, row.pk in used)
