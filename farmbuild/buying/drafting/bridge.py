"""What a draft comes to, by the rules of planned orders: prices of offers at its own quantities, charges and days."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.bridge import offer_input, supplier_input
from farmbuild.catalogue.models import Material, Offer
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.planning.buying.plan import describe
from farmbuild.planning.buying.sums import LineDays, line_sums, order_by, order_sums
from farmbuild.planning.netting.market import break_price


def describe_item(material: Material, length: Decimal | None, organisation: Organisation) -> str:
    """1-3/8 rail, 10', as a plan names it on its orders."""
    return describe(material.name, length, UnitSystem(organisation.unit_system))


def price_at(offer: Offer, quantity: int) -> Decimal:
    """Of one piece when so many are ordered. ``offer`` comes with supplier, material and breaks loaded."""
    return break_price(offer_input(offer), quantity)


def work_out(order: PurchaseOrder, lines: Sequence[PurchaseOrderLine], *, buyer: Organisation, as_of: date) -> None:
    """Set prices, sums, days late and the order's own sums and days on these rows; nothing is stored.

    Lines of one offer reach its price breaks together; tax is as the buyer and the materials have it now. ``offer`` of
    each line is loaded as ``price_at`` asks, and its material.
    """
    order.tax_percent, order.tax_included = buyer.tax_percent, buyer.prices_include_tax
    ordered: dict[int, int] = {}
    for line in lines:
        if line.offer_id:
            ordered[line.offer_id] = ordered.get(line.offer_id, 0) + line.quantity
    sums, days = [], []
    for line in lines:
        if line.offer_id:
            line.unit_price = price_at(line.offer, ordered[line.offer_id])
        own = line.material.tax_percent
        line.tax_percent = buyer.tax_percent if own is None else own
        sums.append(
            line_sums(
                line.quantity,
                line.unit_price,
                tax_percent=line.tax_percent,
                currency=order.currency,
                tax_included=order.tax_included,
            )
        )
        line.line_total, line.tax = sums[-1].total, sums[-1].tax
        days.append(_days(line))
        line.late_days = days[-1].late_days(as_of)
    whole = order_sums(sums, supplier_input(order.supplier), currency=order.currency, tax_included=order.tax_included)
    order.goods, order.delivery, order.tax, order.total = whole.goods, whole.delivery, whole.tax, whole.total
    order.need_by = min((line.need_by for line in lines), default=order.need_by)
    order.order_by = order_by(days or [LineDays(order.need_by, 0)], as_of)


def clear(order: PurchaseOrder) -> None:
    """An order without lines comes to nothing."""
    order.goods = order.delivery = order.tax = order.total = Decimal(0)


def _days(line: PurchaseOrderLine) -> LineDays:
    """Without an offer nothing is known of when it comes."""
    return (
        LineDays(line.need_by, line.offer.lead_days, line.offer.valid_until) if line.offer else LineDays(line.need_by)
    )


def find_offer(line: PurchaseOrderLine, offers: Iterable[Offer]) -> Offer | None:
    """The offer by which a planned line still has its price, if it is still there at that price."""
    asked = (line.material_id, line.length, line.pack, line.supplier_code)
    for offer in offers:
        same = (offer.material_id, offer.length, offer.pack, offer.supplier_code) == asked
        if same and price_at(offer, line.quantity) == line.unit_price:
            return offer
    return None
