"""Orders of the invented season: sent, answered by the supplier, and received as far as they have come."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from io import StringIO
from typing import Any

from farmbuild.buying.drafting.services import add_line, create_draft
from farmbuild.buying.invoices.selectors import charged_lines
from farmbuild.buying.invoices.services import LineBilled, Paper, record_invoice
from farmbuild.buying.landing.bridge import bill_of, expected_tax
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.replying import apply_reply, make_reply
from farmbuild.buying.services import Arrival, receive_goods, send_order
from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.demo.diary import Diary
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.models import Plan
from farmbuild.sites.models import Site

_REPLY = ("No.", "Item", "Your item number", "Quantity", "Price of one, {}", "Promised date")


def plan_orders(diary: Diary, *, user: User, plan: Plan, rows: list[Mapping[str, Any]]) -> None:
    """Those that were written when the plan was accepted."""
    for row in rows:
        _sent(diary, user, plan.organisation, {"plan": plan, "supplier__code": row["supplier"]}, row)


def orders_by_hand(diary: Diary, *, organisation: Organisation, user: User, rows: list[Mapping[str, Any]]) -> None:
    """Those without a day of sending stay drafts."""
    for row in rows:
        diary.on(row["made"], 8, lambda day, row=row: _draft(diary, organisation, user, row))
        if "sent" in row:
            _sent(diary, user, organisation, {"plan": None, "note": row["note"]}, row)


def _draft(diary: Diary, organisation: Organisation, user: User, row: Mapping[str, Any]) -> None:
    given: dict[str, Any] = {"organisation": organisation, "user": user}
    supplier = Supplier.objects.of(organisation).get(code=row["supplier"])
    need_by = diary.today + timedelta(days=row["need"])
    site = Site.objects.of(organisation).get(name=row["site"])
    order = create_draft(**given, supplier=supplier, delivery_site=site, need_by=need_by, note=row["note"])
    for line in row["lines"]:
        offer = Offer.objects.get(supplier=supplier, supplier_code=line["code"])
        add_line(**given, order=order, quantity=line["quantity"], need_by=need_by, offer=offer)


def _sent(
    diary: Diary, user: User, organisation: Organisation, which: Mapping[str, Any], row: Mapping[str, Any]
) -> None:
    given: dict[str, Any] = {"organisation": organisation, "user": user}

    def order() -> PurchaseOrder:
        return PurchaseOrder.objects.of(organisation).get(**which)

    diary.on(row["sent"], 9, lambda day: send_order(**given, order=order(), sent_on=day, how=row["how"]))
    for came in row["receipts"]:
        diary.on(came["on"], 11, lambda day, came=came: _receive(given, order(), came, day))
    for billed in row.get("invoices", ()):
        diary.on(billed["on"], 15, lambda day, billed=billed: bill_order(given, order(), billed, day))
    if reply := row.get("reply"):
        diary.on(reply["on"], 14, lambda day: _answer(given, order(), reply["file"], diary.weekday(reply["promised"])))


def _receive(given: Mapping[str, Any], order: PurchaseOrder, came: Mapping[str, Any], day: date) -> None:
    """``lines``: by material, what came of it where that is not all; none named is the whole order."""
    named: Mapping[str, Mapping[str, Any]] = came["lines"]
    arrivals = []
    for line in order.lines.select_related("material"):
        if named and line.material.code not in named:
            continue
        told = named.get(line.material.code, {})
        arrivals.append(
            Arrival(
                line=line.pk,
                arrived=told.get("arrived", line.quantity),
                damaged=told.get("damaged", 0),
                damage_reason=told.get("damage", ""),
            )
        )
    receive_goods(
        **given,
        order=order,
        arrivals=arrivals,
        received_on=day,
        paper=came["paper"],
        place=came["place"],
        token=f"demo-{order.number}-{came['paper']}",
    )


def bill_order(given: Mapping[str, Any], order: PurchaseOrder, billed: Mapping[str, Any], day: date) -> None:
    """What came is billed with the delivery and the tax of the order; ``pieces``: by material, where others are."""
    rows = list(charged_lines(order=order))
    pieces = {row: billed["pieces"].get(row.material.code, row.charged - row.billed) for row in rows}
    bill = bill_of(
        lines=[(row, count, row.price_now) for row, count in pieces.items() if count],
        currency=order.currency,
        delivery=order.delivery,
        tax=Decimal(0),
        total=None,
        tax_included=order.tax_included,
        tax_recovered=False,
    )
    paper = Paper(
        billed["number"],
        day,
        delivery=order.delivery,
        tax=expected_tax(bill, order.currency),
        tax_included=order.tax_included,
    )
    lines = [LineBilled(row.pk, count) for row, count in pieces.items()]
    record_invoice(**given, order=order, paper=paper, lines=lines, token=f"demo-{order.number}-{len(lines)}")


def _answer(given: Mapping[str, Any], order: PurchaseOrder, file: str, promised: date) -> None:
    """The supplier sends the sheet of the order back, and says when the rest comes."""
    out = StringIO()
    rows = csv.writer(out)
    rows.writerow(heading.format(order.currency) for heading in _REPLY)
    for line in order.lines.order_by("position"):
        day = promised.isoformat() if line.to_come else ""
        rows.writerow([line.position, line.description, line.supplier_code, line.quantity, line.unit_price, day])
    reply = make_reply(**given, order=order, data=out.getvalue().encode(), filename=file)
    apply_reply(**given, order=order, reply=reply)
