"""Goods and the invoice that came with them, in one press: both are stored, or neither."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from farmbuild.buying.invoices.services import LineBilled, Paper, record_invoice
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.receiving import Arrival, Received, receive_goods
from farmbuild.orgs.acts import Act, check_may, needs
from farmbuild.orgs.models import Organisation, User


class BillProblems(ValidationError):
    """What is wrong with the invoice, by its fields; the goods did not come in either."""


@needs(Act.STOCK)
@transaction.atomic
def receive_with_invoice(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    arrivals: Sequence[Arrival],
    token: str,
    bill: Paper | None = None,
    damage_credited: bool = True,
    **receipt: Any,
) -> Received:
    """As ``receive_goods``, and ``bill`` bills what came at the prices of the receipt.

    Damaged pieces are on it where they are paid for. Raises BillProblems by field, and what ``receive_goods`` raises.
    """
    if bill is not None:
        # The act of the press is that of the goods; what is billed needs its own.
        check_may(organisation=organisation, user=user, act=Act.PLAN)
    done = receive_goods(
        organisation=organisation,
        user=user,
        order=order,
        arrivals=arrivals,
        token=token,
        damage_credited=damage_credited,
        **receipt,
    )
    if bill is None or done.same:
        return done
    lines = [
        LineBilled(arrival.line, arrival.arrived - (arrival.damaged if damage_credited else 0), arrival.unit_price)
        for arrival in arrivals
        if arrival.arrived
    ]
    try:
        record_invoice(organisation=organisation, user=user, order=order, paper=bill, lines=lines, token=token)
    except ValidationError as error:
        by_field = error.message_dict if hasattr(error, "error_dict") else {"number": error.messages}
        raise BillProblems(by_field) from error
    return done
