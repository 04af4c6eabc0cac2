"""The order of the worked example, sent: goods 1,266.10 and total 1,430.24."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from uuid import uuid4

from farmbuild.buying.invoices.services import LineBilled, Paper, record_invoice
from farmbuild.buying.models import Invoice, PurchaseOrder, Receipt
from farmbuild.buying.receiving import Arrival, receive_goods
from farmbuild.orgs.models import Organisation, User
from tests.buying.sent_order import sent_order

D = Decimal
DAY = date(2027, 4, 20)
GOODS, TOTAL, TAX, DELIVERY = D("1266.10"), D("1430.24"), D("79.14"), D("85.00")
#: Pieces, price, total and tax of each line.
LINES = ((60, "14.60", "876.00", "54.75"), (9, "36.40", "327.60", "20.48"), (8, "7.8125", "62.50", "3.91"))


def example_order(organisation: Organisation) -> PurchaseOrder:
    otherwise = {
        position: {
            "unit_price": D(price),
            "line_total": D(total),
            "tax": D(tax),
            "tax_percent": D("6.25"),
        }
        for position, (_, price, total, tax) in enumerate(LINES, 1)
    }
    return sent_order(
        organisation,
        *(quantity for quantity, *_ in LINES),
        otherwise=otherwise,
        sums={"goods": GOODS, "delivery": DELIVERY, "tax": TAX, "total": TOTAL},
    )


def receive(order: PurchaseOrder, user: User | None, *came: int | dict | None, **more: object) -> Receipt:
    rows = list(order.lines.all())
    arrivals = [
        Arrival(row.pk, **(one if isinstance(one, dict) else {"arrived": one}))
        for row, one in zip(rows, came, strict=False)
        if one
    ]
    given = {"received_on": DAY, "place": "Barn rack", "token": str(uuid4())} | more
    return receive_goods(organisation=order.organisation, user=user, order=order, arrivals=arrivals, **given).receipt


def bill(
    order: PurchaseOrder,
    user: User | None,
    *quantities: int,
    number: str = "R-1",
    prices: Sequence[str | None] = (),
    token: str = "",
    **paper: object,
) -> Invoice:
    rows = list(order.lines.all())
    lines = [
        LineBilled(row.pk, quantity, D(price) if price else None)
        for row, quantity, price in zip(rows, quantities, [*prices, *[None] * len(rows)], strict=False)
        if quantity
    ]
    return record_invoice(
        organisation=order.organisation,
        user=user,
        order=order,
        paper=Paper(number, DAY, **paper),
        lines=lines,
        token=token or str(uuid4()),
    ).invoice
