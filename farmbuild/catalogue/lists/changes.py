"""What a list says against the offers that are stored: new, changed and by how much, the same, no longer in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from itertools import pairwise

from django.utils.translation import gettext

from farmbuild.catalogue.lists.rows import RIGHT, WRONG, ListRow, Terms, plain, thing
from farmbuild.catalogue.models import Material, Offer
from farmbuild.catalogue.usual import FAR
from farmbuild.measure import format_count, typed_as

NEW, CHANGED, SAME, GONE = "new", "changed", "same", "gone"
Prices = list[tuple[int, Decimal]]


@dataclass
class Listed:
    """One offer as the list has it, put together from its rows."""

    rows: list[ListRow]
    material: Material
    length: Decimal | None
    pack: int
    code: str
    name: str
    prices: Prices
    lead_days: int | None
    until: date | None
    since: date

    @property
    def number(self) -> int:
        return self.rows[0].number


@dataclass
class Change:
    """``was`` and ``now``: prices. ``terms``: of what else is otherwise, what it was and is, as values."""

    kind: str
    material: Material
    length: Decimal | None
    row: int = 0
    was: Prices = field(default_factory=list)
    now: Prices = field(default_factory=list)
    terms: dict[str, tuple[object, object]] = field(default_factory=dict)
    offer: Offer | None = None
    listed: Listed | None = None

    @property
    def percent(self) -> Decimal | None:
        """By how much the price of one has changed, to a hundredth; None where there are not two."""
        if not self.was or not self.now or not self.was[0][1] or self.was == self.now:
            return None
        return ((self.now[0][1] / self.was[0][1] - 1) * 100).quantize(Decimal("0.01"))

    @property
    def far(self) -> bool:
        """More than ten times as much, or less than a tenth."""
        if not self.was or not self.now:
            return False
        before, after = self.was[0][1], self.now[0][1]
        return after > before * FAR or after * FAR < before


def put_together(rows: Sequence[ListRow], terms: Terms) -> list[Listed]:
    """Offers out of rows that are right; what does not go together is said at its row, which is then wrong."""
    groups: dict[tuple, list[ListRow]] = {}
    for row in rows:
        if row.state == RIGHT and row.material:
            called = row.code.casefold() or row.name.casefold()
            groups.setdefault((row.material.pk, row.length, row.pack, called), []).append(row)
    found = [_listed(group, terms) for group in groups.values()]
    return [listed for listed in found if not any(row.problems for row in listed.rows)]


def _listed(rows: list[ListRow], terms: Terms) -> Listed:
    first = rows[0]
    assert first.material is not None
    said: dict[int, tuple[Decimal, ListRow]] = {}
    for row in rows:
        for amount, price in row.prices:
            if amount in said:
                _refuse(
                    row,
                    gettext(
                        "Row %(number)s has a price of %(thing)s from %(amount)s already. Leave one of the two out."
                    )
                    % {"number": said[amount][1].number, "thing": thing(row), "amount": format_count(amount)},
                )
            else:
                said[amount] = (price, row)
        for name in ("lead_days", "until", "since"):
            if getattr(row, name) != getattr(first, name) and getattr(row, name) is not None:
                _refuse(
                    row,
                    gettext("Row %(number)s says otherwise of the same thing. Correct one of the two.")
                    % {"number": first.number},
                )
    _check_steps(said, first)
    prices = [(amount, price) for amount, (price, _) in sorted(said.items())]
    return Listed(
        rows,
        first.material,
        first.length,
        first.pack,
        first.code,
        first.name,
        prices,
        first.lead_days,
        first.until,
        first.since or terms.since,
    )


def _refuse(row: ListRow, sentence: str) -> None:
    row.problems.setdefault("", sentence)
    row.state = WRONG


def _check_steps(said: dict[int, tuple[Decimal, ListRow]], first: ListRow) -> None:
    """A price from 1 piece, or from the first pack, which is the least that can be ordered; and none that rises."""
    if not said:
        return
    least = min(said)
    if 1 < least <= first.pack:
        said[1] = said.pop(least)
    elif least > 1:
        _refuse(
            said[least][1],
            gettext("The first price of %(thing)s starts from %(least)s pieces. Add the price from 1.")
            % {"thing": thing(first), "least": format_count(least)},
        )
    ordered = sorted(said.items())
    for (amount, (price, _)), (more, (higher, row)) in pairwise(ordered):
        if higher > price:
            _refuse(
                row,
                gettext(
                    "The price from %(more)s (%(typed_as)s) is above the one from %(amount)s (%(typed_as2)s). "
                    "More pieces cost the same each, or less."
                )
                % {
                    "more": format_count(more),
                    "typed_as": typed_as(higher.normalize()),
                    "amount": format_count(amount),
                    "typed_as2": typed_as(price.normalize()),
                },
            )


def compare(
    listed: Iterable[Listed], offers: Iterable[Offer], *, since: date, left_out: Iterable[ListRow] = ()
) -> list[Change]:
    """In the order of the list, what it leaves out last. ``offers``: of the supplier, with prices and materials.

    ``left_out``: rows that the person leaves out; what they are about is in the list all the same.
    """
    left = {offer.pk: offer for offer in offers}
    by_thing: dict[tuple, list[Offer]] = {}
    for offer in left.values():
        by_thing.setdefault((offer.material_id, offer.length), []).append(offer)
    every = list(listed)
    found: dict[int, Offer] = {}
    # An item number tells more than a pack; each offer is taken once.
    for alike in (_same_code_and_pack, _same_code, _same_pack):
        for at, row in enumerate(every):
            for offer in by_thing.get((row.material.pk, row.length), ()):
                if at not in found and offer.pk in left and alike(row, offer):
                    found[at] = left.pop(offer.pk)
    changes = [_change(row, found.get(at)) for at, row in enumerate(every)]
    there = {text for row in left_out for text in row.sign if text}
    gone = [
        offer
        for offer in left.values()
        if (offer.valid_until is None or offer.valid_until >= since)
        and there.isdisjoint({plain(offer.supplier_code), plain(offer.listed_as)})
    ]
    return changes + [
        Change(GONE, offer.material, offer.length, was=prices_of(offer), offer=offer)
        for offer in sorted(gone, key=lambda offer: (offer.material.name, offer.length or 0, offer.pk))
    ]


def _same_code_and_pack(row: Listed, offer: Offer) -> bool:
    return _same_code(row, offer) and row.pack == offer.pack


def _same_code(row: Listed, offer: Offer) -> bool:
    return bool(row.code) and row.code.casefold() == offer.supplier_code.casefold()


def _same_pack(row: Listed, offer: Offer) -> bool:
    return row.pack == offer.pack and not (row.code and offer.supplier_code)


def prices_of(offer: Offer) -> Prices:
    return sorted((step.from_quantity, step.unit_price) for step in offer.breaks.all())


def _change(row: Listed, offer: Offer | None) -> Change:
    change = Change(NEW, row.material, row.length, row.number, now=row.prices, offer=offer, listed=row)
    if offer is None:
        return change
    change.was = prices_of(offer)
    # What the list does not say stays as it was said before; an end that has passed does not.
    if row.lead_days is None:
        row.lead_days = offer.lead_days
    if row.until is None and offer.valid_until is not None and offer.valid_until >= row.since:
        row.until = offer.valid_until
    row.code = row.code or offer.supplier_code
    if not row.name or (not offer.listed_as and plain(row.name) == plain(offer.material.name)):
        row.name = offer.listed_as
    pairs = {
        "pack": (offer.pack, row.pack),
        "lead_days": (offer.lead_days, row.lead_days),
        "until": (offer.valid_until, row.until),
        "code": (offer.supplier_code, row.code),
    }
    change.terms = {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}
    change.kind = CHANGED if change.terms or change.was != change.now else SAME
    return change
