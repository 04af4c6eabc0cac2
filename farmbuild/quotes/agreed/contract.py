"""What a customer accepted: the option as it was sent, and the changes since, read back from what is frozen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from farmbuild.quotes.agreed.bridge import Part
from farmbuild.quotes.bridge import Priced, price_frozen
from farmbuild.quotes.models import Acceptance, ChangeOrder, Job


@dataclass(frozen=True)
class Agreed:
    """One thing that was accepted: the option (``change`` None) or a change order, with its lines and rates as sent."""

    name: str
    change: ChangeOrder | None
    currency: str
    rates: dict[str, str]
    lines: Sequence[dict[str, Any]]
    priced: Priced

    @property
    def parts(self) -> tuple[Part, ...]:
        return tuple(
            Part(part.kind, Decimal(self.rates[f"tax_{part.kind}"]).normalize(), part.price, part.tax)
            for part in self.priced.parts
            if part.price or part.tax
        )

    @property
    def before_tax(self) -> Decimal:
        return self.priced.before_tax

    @property
    def tax(self) -> Decimal:
        return self.priced.tax


@dataclass(frozen=True)
class Contract:
    """The option and the accepted changes. ``sent_at``: when the quote was sent; ``accepted_on``: its day."""

    job: Job
    sent_at: datetime
    accepted_on: date
    option: Agreed
    changes: tuple[Agreed, ...]

    @property
    def all(self) -> tuple[Agreed, ...]:
        return (self.option, *self.changes)

    @property
    def currency(self) -> str:
        return self.option.currency

    @property
    def before_tax(self) -> Decimal:
        return sum((one.before_tax for one in self.all), Decimal(0))

    @property
    def tax(self) -> Decimal:
        return sum((one.tax for one in self.all), Decimal(0))


def contract_of(*, job: Job) -> Contract | None:
    """None while nothing is accepted; two queries."""
    rows = Acceptance.objects.filter(job=job).select_related("version")
    accepted = rows.defer("version__pdf", "version__workbook").first()
    if accepted is None:
        return None
    version = accepted.version
    shown = next(one for one in version.shown["options"] if one["option"] == accepted.option_id)
    rates = version.shown["rates"]
    option = Agreed(
        accepted.option_name,
        None,
        version.currency,
        rates,
        shown["lines"],
        price_frozen(rates, shown["lines"], version.currency),
    )
    changes = ChangeOrder.objects.filter(job=job, state=ChangeOrder.State.ACCEPTED).order_by("number")
    return Contract(job, version.sent_at, accepted.day, option, tuple(_agreed(change) for change in changes))


def _agreed(change: ChangeOrder) -> Agreed:
    return Agreed(
        f"Change {change.number}: {change.what}",
        change,
        change.currency,
        change.rates,
        change.lines,
        price_frozen(change.rates, change.lines, change.currency, change=True),
    )
