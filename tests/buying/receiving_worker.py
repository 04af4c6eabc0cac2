"""Receives on one order, over and over. Run by test_receiving_killed.py: organisation, order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from uuid import uuid4

from farmbuild.buying import receiving
from farmbuild.buying.models import PurchaseOrder
from farmbuild.orgs.models import Organisation


def work(organisation_pk: int, order_pk: int) -> Iterator[object]:
    organisation = Organisation.objects.get(pk=organisation_pk)
    order = PurchaseOrder.objects.get(pk=order_pk)
    lines = list(order.lines.values_list("pk", flat=True))
    yield "ready"
    while True:
        token = str(uuid4())
        receiving.receive_goods(
            organisation=organisation,
            user=None,
            order=order,
            arrivals=[
                receiving.Arrival(line, 3, damaged=at % 2, damage_reason="bent", place=f"Bay {token[:2]}-{at % 5}")
                for at, line in enumerate(lines)
            ],
            received_on=date(2027, 4, 20),
            token=token,
        )
        # Said only once it is stored: what was said must be there after the kill.
        yield token
