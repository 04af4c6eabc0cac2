"""Prices of a material over time, out of what its offers said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from farmbuild.catalogue.models import Material, OfferRecord
from farmbuild.orgs.models import Organisation

#: The latest of a length; what is older is not drawn.
MOST = 2000
PERCENT = Decimal(100)


@dataclass(frozen=True)
class Step:
    """A price of one, from 1 piece up, from a day on. ``was``: the one before it; None for the first."""

    record: OfferRecord
    since: date
    price: Decimal
    was: Decimal | None

    @property
    def percent(self) -> Decimal | None:
        """By how much it is another than the one before, to a hundredth."""
        if self.was is None or not self.was or self.was == self.price:
            return None
        return ((self.price / self.was - 1) * PERCENT).quantize(Decimal("0.01"))


@dataclass
class Line:
    """One offer over time. ``end``: the last day on which it holds; None while it has none."""

    letter: str
    record: OfferRecord
    steps: list[Step] = field(default_factory=list)
    end: date | None = None

    @property
    def supplier(self) -> str:
        return str(self.record.supplier)

    def holds(self, today: date) -> bool:
        return self.end is None or self.end >= today


def lengths_of(*, organisation: Organisation, material: Material) -> list[Decimal | None]:
    """Lengths of which prices are kept in the organisation's currency, the one with the latest first."""
    rows = _records(organisation, material).order_by("-pk").values_list("length", flat=True)[:MOST]
    return list(dict.fromkeys(rows))


def _records(organisation: Organisation, material: Material):
    """Other money is not drawn beside ours."""
    return OfferRecord.objects.of(organisation).filter(material=material, currency=organisation.currency)


def lines_of(*, organisation: Organisation, material: Material, length: Decimal | None) -> list[Line]:
    """Each offer of that length, by supplier, with a letter; one query."""
    rows = (
        _records(organisation, material).filter(length=length)
        if length is not None
        else _counted(organisation, material)
    )
    rows = rows.select_related("supplier", "by").order_by("-pk")[:MOST]
    lines: dict[int, Line] = {}
    for record in reversed(rows):
        line = lines.setdefault(record.offer_key, Line("", record))
        _add(line, record)
    found = sorted(lines.values(), key=lambda line: (line.supplier, line.record.pk))
    for at, line in enumerate(found):
        line.letter = letter(at)
    return found


def _counted(organisation: Organisation, material: Material):
    return _records(organisation, material).filter(length=None)


def _add(line: Line, record: OfferRecord) -> None:
    removed = record.kind == OfferRecord.Kind.REMOVED
    # What is removed held until the day before; removed on the day it was typed it never held.
    line.end = record.since - timedelta(days=1) if removed else record.valid_until
    line.record = record
    if not removed:
        was = line.steps[-1].price if line.steps else None
        line.steps.append(Step(record, record.since, record.price, was))


def letter(at: int) -> str:
    return chr(65 + at) if at < 26 else f"{chr(64 + at // 26)}{chr(65 + at % 26)}"


def lowest(lines: Iterable[Line], *, today: date) -> Line | None:
    """The one with the lowest price of those that hold today; of equals the first."""
    held = [line for line in lines if line.steps and line.holds(today) and line.steps[-1].since <= today]
    return min(held, key=lambda line: line.steps[-1].price, default=None)
