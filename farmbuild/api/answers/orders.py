"""Purchase orders and what came of them."""

from datetime import date
from typing import Annotated
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Field, Router, Schema, Status
from pydantic import StringConstraints

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads, writes
from farmbuild.api.problems import Refusal
from farmbuild.api.specs import Closed
from farmbuild.api.values import Amount, Count, Currency, Day, Key, Line, Mm, amount, field, mm
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.receiving import Arrival, receive_goods
from farmbuild.buying.selectors import lines_of, orders_of
from farmbuild.measure import amounts_shown
from farmbuild.orgs.acts import Act
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

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
    receipts: int = field("How many receipts it has.")
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
    lines = [line_out(line) for line in lines_of(order=order)]
    return order_out(order) | {"receipts": order.receipts.count(), "lines": lines}


@reads(router, "/orders", "orders", listed(OrderOut), SEE, "Purchase orders")
def orders(request: HttpRequest, asked: Part, state: PurchaseOrder.State | None = None):
    return part(orders_of(organisation=request.organisation, state=state or ""), asked, order_out)


@reads(router, "/orders/{number}", "order", WholeOrder, SEE, "One order with its lines")
def order(request: HttpRequest, number: str):
    return whole_out(get_object_or_404(orders_of(organisation=request.organisation), number=number))


class ArrivedLine(Closed):
    position: Key = field("Of the line on the order.")
    arrived: Count
    damaged: Count = field("Of those that arrived.", 0)
    damage_reason: Line = ""


class ReceiptIn(Closed):
    lines: Annotated[list[ArrivedLine], Field(min_length=1, max_length=500)]
    received_on: Day | None = field("None: today.", None)
    place: Line = field("Where it lies; a new place is made at the site of its line.", "")
    paper: Annotated[Line, StringConstraints(max_length=60)] = field("The delivery note.", "")
    damage_credited: bool = field("The supplier replaces damaged pieces or takes them off the bill.", True)
    seen: Count | None = field("How many receipts the order had when it was read; 409 where there are more.", None)


class ReceiptOut(Schema):
    number: int = field("Of the receipt, counted from 1 on each order.")
    order: WholeOrder


@writes(router, "/orders/{number}/receipts", "order-receive", ReceiptOut, Bearer(Act.STOCK), "Receive what came")
def receive(request: HttpRequest, number: str, sent: ReceiptIn):
    organisation = request.organisation
    order = get_object_or_404(orders_of(organisation=organisation), number=number)
    keys = dict(lines_of(order=order).values_list("position", "pk"))
    if unknown := [row.position for row in sent.lines if row.position not in keys]:
        raise ValidationError({"lines": f"There is no line {unknown[0]} on this order."})
    if sent.seen is not None:
        _seen(organisation, order, sent.seen)
    done = receive_goods(
        organisation=organisation,
        user=request.user,
        order=order,
        arrivals=[Arrival(keys[row.position], row.arrived, row.damaged, row.damage_reason) for row in sent.lines],
        received_on=sent.received_on or today_of(organisation=organisation),
        token=str(uuid4()),
        place=sent.place,
        paper=sent.paper,
        damage_credited=sent.damage_credited,
    )
    whole = whole_out(orders_of(organisation=organisation).get(pk=order.pk))
    return Status(201, {"number": done.receipt.number, "order": whole})


def _seen(organisation: Organisation, order: PurchaseOrder, seen: int) -> None:
    """Under the lock of the order. Raises Refusal where somebody took something in since it was read."""
    PurchaseOrder.objects.of(organisation).select_for_update(of=("self",), no_key=True).get(pk=order.pk)
    if (there := order.receipts.count()) != seen:
        raise Refusal(409, f"{order} has {there} receipts by now. Read it again, then receive what is not on them.")
