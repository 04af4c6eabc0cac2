"""Purchase orders and what came of them."""

from datetime import date

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads
from farmbuild.api.values import Amount, Currency, Mm, amount, field, mm
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.selectors import lines_of, orders_of
from farmbuild.measure import amounts_shown
from farmbuild.orgs.acts import Act

router = Router(tags=["orders"])
SEE = Bearer(Act.SEE)


class OrderOut(Schema):
    number: str
    supplier: str = field("The code of the supplier.")
    delivery_site: str
    plan: int | None
    state: str = field("draft, sent, part, received or cancelled.")
    order_by: date
    need_by: date
    sent_on: date | None
    currency: Currency
    total: Amount | None = field("With delivery and tax; none where costs are not shown.")


class OrderLineOut(Schema):
    position: int
    material: str
    description: str
    supplier_code: str
    length_mm: Mm | None
    quantity: int
    arrived: int
    damaged: int = field("Of those that arrived.")
    to_come: int
    need_by: date
    promised_on: date | None
    delivery_site: str | None = field("Where it goes elsewhere than the order.")
    unit_price: Amount | None
    line_total: Amount | None


class WholeOrder(OrderOut):
    lines: list[OrderLineOut]


def order_out(row: PurchaseOrder):
    return {
        "number": row.number,
        "supplier": row.supplier.code,
        "delivery_site": row.delivery_site.slug,
        "plan": row.plan.number if row.plan else None,
        "state": row.state,
        "order_by": row.order_by,
        "need_by": row.need_by,
        "sent_on": row.sent_on,
        "currency": row.currency,
        "total": amount(row.total) if amounts_shown() else None,
    }


def line_out(line: PurchaseOrderLine):
    costs = amounts_shown()
    return {
        "position": line.position,
        "material": line.material.code,
        "description": line.description,
        "supplier_code": line.supplier_code,
        "length_mm": mm(line.length),
        "quantity": line.quantity,
        "arrived": line.arrived,
        "damaged": line.damaged,
        "to_come": line.to_come,
        "need_by": line.need_by,
        "promised_on": line.promised_on,
        "delivery_site": line.delivery_site.slug if line.delivery_site else None,
        "unit_price": amount(line.unit_price) if costs else None,
        "line_total": amount(line.line_total) if costs else None,
    }


def whole_out(order: PurchaseOrder):
    return order_out(order) | {"lines": [line_out(line) for line in lines_of(order=order)]}


@reads(router, "/orders", "orders", listed(OrderOut), SEE, "Purchase orders")
def orders(request: HttpRequest, asked: Part, state: PurchaseOrder.State | None = None):
    return part(orders_of(organisation=request.organisation, state=state or ""), asked, order_out)


@reads(router, "/orders/{number}", "order", WholeOrder, SEE, "One order with its lines")
def order(request: HttpRequest, number: str):
    return whole_out(get_object_or_404(orders_of(organisation=request.organisation), number=number))
