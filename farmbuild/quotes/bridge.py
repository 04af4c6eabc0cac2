"""Priced lines as they are frozen in what went out, and what they come to by the arithmetic of planning."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from farmbuild.measure.speech import gettext_noop
from farmbuild.planning.pricing.offered import FORM, Offered, OfferedHouse, OfferedOption, OfferedPart, offered_of
from farmbuild.planning.pricing.quote import Goods, Hours, Kind, Part, Priced, QuoteError, Rates, Use, price
from farmbuild.planning.season.snapshot import digest
from farmbuild.planning.work.cautions import ALWAYS, CAUTIONS
from farmbuild.quotes.models import QuoteLine, RateFields

__all__ = [
    "FORM",
    "PARTS",
    "PART_NAMES",
    "Kind",
    "Offered",
    "OfferedHouse",
    "OfferedOption",
    "OfferedPart",
    "Part",
    "Priced",
    "QuoteError",
    "cautions",
    "digest",
    "frozen_lines",
    "frozen_rates",
    "offered_of",
    "price_frozen",
]

#: Of which part of a price a line is.
PARTS = {
    "goods": Kind.MATERIALS,
    "charge": Kind.MATERIALS,
    "hours": Kind.WORK,
    "equipment": Kind.EQUIPMENT,
    "trip": Kind.EQUIPMENT,
}
PART_NAMES = {
    Kind.MATERIALS: gettext_noop("Materials and delivery"),
    Kind.WORK: gettext_noop("Work"),
    Kind.EQUIPMENT: gettext_noop("Equipment and trips"),
}
_RATES = ("labour", "overhead", "contingency", "margin", "waste", "tax_materials", "tax_work", "tax_equipment")
Frozen = Mapping[str, Any]


def frozen_rates(rates: RateFields) -> dict[str, str]:
    return {name: str(getattr(rates, name)) for name in _RATES}


def frozen_lines(lines: Iterable[QuoteLine]) -> list[dict[str, str]]:
    """Without those that are left out; numbers as text, lengths in millimetres."""
    return [
        {
            "kind": line.kind,
            "key": line.key,
            "what": line.what,
            "material": line.material.code if line.material else "",
            "length": "" if line.length is None else str(line.length),
            "step": line.step,
            "quantity": str(line.quantity),
            "price": "" if line.price is None else str(line.price),
        }
        for line in lines
        if not line.left_out
    ]


def price_frozen(rates: Frozen, lines: Sequence[Frozen], currency: str, *, change: bool = False) -> Priced:
    """Raises QuoteError. ``change``: quantities may be below 0."""
    of: dict[Kind, list[Frozen]] = {kind: [] for kind in Kind}
    for line in lines:
        of[PARTS[line["kind"]]].append(line)
    return price(
        Rates(
            labour=Decimal(rates["labour"]),
            overhead=Decimal(rates["overhead"]),
            contingency=Decimal(rates["contingency"]),
            margin=Decimal(rates["margin"]),
            tax={kind: Decimal(rates[f"tax_{kind}"]) for kind in Kind},
        ),
        [Goods(line["what"], Decimal(line["quantity"]), Decimal(line["price"])) for line in of[Kind.MATERIALS]],
        [Hours(line["what"], Decimal(line["quantity"])) for line in of[Kind.WORK]],
        [Use(line["what"], Decimal(line["quantity"]), Decimal(line["price"])) for line in of[Kind.EQUIPMENT]],
        currency,
        change=change,
    )


def cautions() -> list[tuple[str, str]]:
    """Those of every house: (what about, words)."""
    return [(found.about, found.words) for found in (CAUTIONS["general"], CAUTIONS["posts"])] + [("", ALWAYS)]
