"""What one option of a quote costs more than another, by part and by line; each adds up to the whole difference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import share_out
from farmbuild.planning.pricing.quote import Kind, Priced


@dataclass(frozen=True)
class PricedOption:
    """``costs``: of each kind, its lines by name, in coins; they add up to the cost of that kind."""

    priced: Priced
    costs: Mapping[Kind, Sequence[tuple[str, Decimal]]]

    def prices(self, kind: Kind, currency: str) -> dict[str, Decimal]:
        """The price of a kind, contingency and margin in it, shared over its lines by what they cost."""
        rows = self.costs.get(kind, ())
        price = self.priced.part(kind).price
        found: dict[str, Decimal] = {}
        if rows:
            shares = share_out(price, [cost for _, cost in rows], currency)
            for (name, _), share in zip(rows, shares, strict=True):
                found[name] = found.get(name, Decimal(0)) + share
        return found


@dataclass(frozen=True)
class Difference:
    """Above 0: the option costs more. ``lines`` add up to ``parts`` but the tax, and all parts to ``total``."""

    parts: Mapping[Kind, Decimal]
    tax: Decimal
    total: Decimal
    lines: tuple[tuple[Kind, str, Decimal], ...]


def difference(option: PricedOption, base: PricedOption, currency: str) -> Difference:
    parts = {kind: option.priced.part(kind).price - base.priced.part(kind).price for kind in Kind}
    lines: list[tuple[Kind, str, Decimal]] = []
    for kind in Kind:
        ours, theirs = option.prices(kind, currency), base.prices(kind, currency)
        for name in dict.fromkeys([*ours, *theirs]):
            if more := ours.get(name, Decimal(0)) - theirs.get(name, Decimal(0)):
                lines.append((kind, name, more))
    return Difference(
        parts=parts,
        tax=option.priced.tax - base.priced.tax,
        total=option.priced.total - base.priced.total,
        lines=tuple(lines),
    )
