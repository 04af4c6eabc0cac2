"""Materials that went into houses, and what of the stock is nobody's, as movements froze it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy

from farmbuild.buying.invoices.selectors import adjusted_of, expense_of
from farmbuild.orgs.models import Organisation
from farmbuild.stock.cost_selectors import general_expense_of, material_cost_of

DAMAGED = gettext_lazy("Damaged on arrival, not credited")
LATER = gettext_lazy("Bills that came later")


@dataclass(frozen=True)
class MaterialCost:
    """``house`` and ``job`` None: a general expense. ``length``: mm of one piece, None for what is counted.

    ``estimated``: some of it is from before costs were kept.
    """

    house: int | None
    name: str
    length: Decimal | None
    quantity: Decimal
    amount: Decimal
    estimated: bool = False
    job: int | None = None


def materials_of(
    *, organisation: Organisation, houses: Collection[int] | None, job: int | None = None
) -> list[MaterialCost]:
    """Of these houses and of this job as a whole; ``houses`` None: of all, and what is nobody's."""
    which: dict[str, Any] = {"organisation": organisation, "houses": houses, "job": job}
    found = [
        MaterialCost(row.house, row.name, row.length, row.quantity, row.amount, row.estimated, row.job)
        for row in material_cost_of(**which)
    ]
    found += [
        MaterialCost(house, str(LATER), None, Decimal(0), amount, job=job)
        for (house, job), amount in adjusted_of(**which).items()
        if amount
    ]
    if houses is None:
        found += [
            MaterialCost(None, row.reason, None, Decimal(0), row.amount)
            for row in general_expense_of(organisation=organisation)
        ]
        damaged = expense_of(organisation=organisation)
        found.append(MaterialCost(None, str(DAMAGED), None, Decimal(0), damaged))
    return found
