"""What was recorded of deliveries and of spoilt sticks."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

from django.db.models import Max, Q, Sum

from farmbuild.buying.models import PurchaseOrder
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.orgs.models import Organisation

#: Of fewer deliveries or sticks nothing is said: common practice, no source.
FEWEST_DELIVERIES, FEWEST_STICKS = 3, 50
#: The latest of them tell how a supplier delivers now.
MOST_DELIVERIES = 50


def recorded_leads(*, organisation: Organisation) -> dict[str, list[int]]:
    """Days from sending an order to its last delivery, by code of the supplier; of orders that came whole."""
    rows = (
        PurchaseOrder.objects.of(organisation)
        .filter(state=PurchaseOrder.State.RECEIVED, sent_on__isnull=False)
        .annotate(came=Max("receipts__received_on", filter=Q(receipts__reverses=None, receipts__reversed_by=None)))
        .filter(came__isnull=False)
        .order_by("-sent_on", "-pk")
        .values_list("supplier__code", "sent_on", "came")
    )
    leads: dict[str, list[int]] = defaultdict(list)
    for code, sent, came in rows:
        if len(leads[code]) < MOST_DELIVERIES:
            leads[code].append(max(0, (came - sent).days))
    return dict(leads)


def recorded_spoil(*, organisation: Organisation) -> Fraction | None:
    """Share of the sticks given to batches that was spoilt; None where too few were."""
    sums = HoopBatch.objects.of(organisation).aggregate(issued=Sum("sticks_issued"), spoilt=Sum("sticks_spoilt"))
    issued = sums["issued"] or 0
    return Fraction(sums["spoilt"], issued) if issued >= FEWEST_STICKS else None
