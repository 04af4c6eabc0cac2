"""Why an order line has more than is needed, in words."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from farmbuild.measure import format_count, join_words
from farmbuild.planning.inputs import Supplier


def why_more(
    *,
    needed: int,
    pack: int,
    quantity: int,
    unit_price: Decimal,
    goods: Decimal,
    supplier: Supplier,
    money: Callable[[Decimal], str],
) -> str:
    """'326 more than the 124 needed, because …', or "" where no more is bought. ``goods``: of the whole order."""
    if quantity <= needed:
        return ""
    in_packs = -(-needed // pack) * pack
    why = [f"it comes in packs of {format_count(pack)}"] if in_packs > needed else []
    if quantity > in_packs:
        why.append(_beyond_packs(goods - (quantity - in_packs) * unit_price, goods, supplier, money))
    return f"{format_count(quantity - needed)} more than the {format_count(needed)} needed, because {join_words(why)}"


def _beyond_packs(without: Decimal, goods: Decimal, supplier: Supplier, money: Callable[[Decimal], str]) -> str:
    """``without``: what the goods would come to."""
    free = supplier.free_delivery_from
    if without < supplier.minimum_order:
        return f"{supplier.name} takes no order below {money(supplier.minimum_order)}"
    if free is not None and without < free <= goods:
        return f"{supplier.name} delivers free from {money(free)}"
    return "so many cost less than fewer"
