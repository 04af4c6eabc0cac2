"""An order of so many lines that was sent, without a plan worked out: quick to make, however long."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from hashlib import sha256
from types import MappingProxyType

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, SentWorkbook
from farmbuild.catalogue.models import Supplier
from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan
from tests.factories import FOOT, MaterialFactory, SiteFactory, SupplierFactory

NEED_BY = date(2027, 5, 3)


def sent_order(
    organisation: Organisation,
    *quantities: int,
    price: str = "13.4",
    otherwise: Mapping[int, Mapping[str, object]] = MappingProxyType({}),
    sums: Mapping[str, object] = MappingProxyType({}),
    supplier: Supplier | None = None,
) -> PurchaseOrder:
    """Line n is of ``quantities[n - 1]`` sticks at ``price``, but for the fields in ``otherwise[n]``; the order is but
    for those in ``sums``.
    """
    count = Plan.objects.of(organisation).count() + 1
    site = SiteFactory(organisation=organisation)
    plan = Plan.objects.create(
        organisation=organisation,
        number=count,
        name="Spring",
        as_of=date(2027, 3, 1),
        delivery_site=site,
        inputs={},
        inputs_digest=str(count),
    )
    goods = sum(quantities) * Decimal(price)
    order = PurchaseOrder.objects.create(
        organisation=organisation,
        number=f"{count}-1",
        plan=plan,
        supplier=supplier or SupplierFactory(organisation=organisation),
        delivery_site=site,
        order_by=date(2027, 4, 1),
        need_by=NEED_BY,
        **{"currency": "USD", "goods": goods, "delivery": 0, "tax": 0, "total": goods} | dict(sums),
    )
    material = MaterialFactory(organisation=organisation)
    PurchaseOrderLine.objects.bulk_create(
        PurchaseOrderLine(
            **{
                "order": order,
                "position": position,
                "material": material,
                "description": f"Rail {position}",
                "supplier_code": f"IP-{position}",
                "length": FOOT * 10,
                "needed": quantity,
                "pack": 1,
                "quantity": quantity,
                "unit_price": Decimal(price),
                "line_total": quantity * Decimal(price),
                "tax": 0,
                "need_by": NEED_BY,
            }
            | dict(otherwise.get(position, {}))
        )
        for position, quantity in enumerate(quantities, 1)
    )
    data = b"as sent"
    SentWorkbook.objects.create(order=order, name="order.xlsx", data=data, sha256=sha256(data).hexdigest())
    order.state, order.sent_on = PurchaseOrder.State.SENT, date(2027, 4, 1)
    order.save()
    return order
