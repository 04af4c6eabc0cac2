"""Receives on one order until it is killed. Run by test_receiving_killed.py: organisation, order, lines a receipt."""

from __future__ import annotations

import sys
from datetime import date
from uuid import uuid4

import django

django.setup()

from farmbuild.buying import receiving  # noqa: E402
from farmbuild.buying.models import PurchaseOrder  # noqa: E402
from farmbuild.orgs.models import Organisation  # noqa: E402


def main(organisation_pk: int, order_pk: int) -> None:
    organisation = Organisation.objects.get(pk=organisation_pk)
    order = PurchaseOrder.objects.get(pk=order_pk)
    lines = list(order.lines.values_list("pk", flat=True))
    sys.stdout.write("ready\n")
    sys.stdout.flush()
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
        sys.stdout.write(f"{token}\n")
        sys.stdout.flush()


main(*(int(argument) for argument in sys.argv[1:]))
