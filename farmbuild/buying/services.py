"""Writing purchase orders; sending and receiving them, as other apps call it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from django.db import transaction
from django.utils.translation import gettext

from farmbuild.buying.bridge import Order, line_fields, numbered, order_fields, planned_number
from farmbuild.buying.models import LessWanted, PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.receiving import Arrival, receive_goods, reverse_receipt
from farmbuild.buying.sending import cancel_drafts, cancel_order, close_short, send_order
from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site

__all__ = [
    "Arrival",
    "OrderProblem",
    "cancel_drafts",
    "cancel_order",
    "close_short",
    "note_less_wanted",
    "receive_goods",
    "record_orders",
    "reverse_receipt",
    "send_order",
]


class OrderProblem(ValueError):
    """An order cannot be written; the text is a sentence for the user."""


@transaction.atomic
def record_orders(
    *,
    organisation: Organisation,
    plan: int,
    plan_number: int,
    delivery_site: Site,
    orders: Collection[Order],
    currency: str,
) -> list[PurchaseOrder]:
    """Write the orders of the plan with that key, numbered by the plan and a counter, in the order of supplier codes:
    7-1, 7-2.

    An order of the plan that stands is left as it is; where all of its number were cancelled, the next is 7-1-2.
    Raises OrderProblem when a supplier or material of the plan is no longer there under its code.
    """
    before: dict[str, list[str]] = {}
    for number, state in PurchaseOrder.objects.filter(plan=plan).values_list("number", "state"):
        before.setdefault(planned_number(number), []).append(state)
    standing = {number for number, states in before.items() if set(states) - {PurchaseOrder.State.CANCELLED}}
    wanted = {number: order for number, order in numbered(orders, plan_number).items() if number not in standing}
    orders = wanted.values()
    suppliers = {row.code: row for row in suppliers_of(organisation=organisation)}
    materials = {row.code: row for row in materials_of(organisation=organisation)}
    gone = {order.supplier for order in orders} - suppliers.keys()
    gone |= {line.material for order in orders for line in order.lines} - materials.keys()
    if gone:
        names = ", ".join(sorted(gone))
        raise OrderProblem(
            gettext(
                "No orders were written: %(names)s has been removed or has another short name now. Make a new "
                "plan with things as they are."
            )
            % {"names": names}
        )
    written = []
    lines: list[PurchaseOrderLine] = []
    for number, order in wanted.items():
        again = len(before.get(number, ()))
        row = PurchaseOrder(
            organisation=organisation,
            plan_id=plan,
            number=f"{number}-{again + 1}" if again else number,
            supplier=suppliers[order.supplier],
            delivery_site=delivery_site,
            currency=currency,
            **order_fields(order),
        )
        row.full_clean()
        row.save()
        written.append(row)
        for position, line in enumerate(order.lines, start=1):
            new = PurchaseOrderLine(
                order=row, position=position, material=materials[line.material], **line_fields(line)
            )
            # Both rows were loaded or saved just now; looking each up again would cost two queries a line.
            new.clean_fields(exclude=["order", "material"])
            lines.append(new)
    PurchaseOrderLine.objects.bulk_create(lines, batch_size=500)
    return written


@transaction.atomic
def note_less_wanted(*, plan: int, user: User | None, less: Mapping[int, int]) -> None:
    """Since the plan with that key was accepted, so many pieces fewer of each order line are needed, by its key.

    A plan that is accepted again says it anew.
    """
    LessWanted.objects.filter(plan=plan).delete()
    LessWanted.objects.bulk_create(
        LessWanted(line_id=line, plan_id=plan, quantity=quantity, made_by=user) for line, quantity in less.items()
    )
