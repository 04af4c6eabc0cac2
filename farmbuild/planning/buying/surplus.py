"""Why an order line has more than is needed, in words."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from farmbuild.measure import format_count
from farmbuild.measure.speech import sentence
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
    why: list[str] = [sentence("it comes in packs of %(pack)s", pack=format_count(pack))] if in_packs > needed else []
    if quantity > in_packs:
        why.append(_beyond_packs(goods - (quantity - in_packs) * unit_price, goods, supplier, money))
    return sentence(
        "%(more)s more than the %(needed)s needed, because %(why)s",
        more=format_count(quantity - needed),
        needed=format_count(needed),
        why=why[0] if len(why) == 1 else sentence("%(others)s and %(last)s", others=why[0], last=why[1]),
    )


def _beyond_packs(without: Decimal, goods: Decimal, supplier: Supplier, money: Callable[[Decimal], str]) -> str:
    """``without``: what the goods would come to."""
    free = supplier.free_delivery_from
    if without < supplier.minimum_order:
        return sentence(
            "%(supplier)s takes no order below %(money)s", supplier=supplier.name, money=money(supplier.minimum_order)
        )
    if free is not None and without < free <= goods:
        return sentence("%(supplier)s delivers free from %(money)s", supplier=supplier.name, money=money(free))
    return sentence("so many cost less than fewer")
