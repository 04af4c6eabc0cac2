"""Whether what stands in members' accounts for joint orders is what they owe of them."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from decimal import Decimal

from django.db.models import Max, Q

from farmbuild.buying.models import Invoice, PurchaseOrder, PurchaseOrderLine, Receipt, Reply
from farmbuild.coop.joint.splitting import all_entries_of, entries_of, split_of
from farmbuild.coop.models import JointOrder
from farmbuild.orgs.models import Organisation


def owed_again(*, organisation: Organisation) -> dict[int, Decimal]:
    """By member what is owed of joint orders that were charged, worked out again.

    Where goods, bills or orders changed since, the difference waits to be charged, and what was charged counts. A dozen
    queries a joint order.
    """
    found: dict[int, Decimal] = defaultdict(Decimal)
    joints = JointOrder.objects.of(organisation).exclude(closed_at=None).select_related("organisation", "delivery_site")
    for joint in joints.order_by("pk"):
        charged = entries_of(joint).aggregate(last=Max("at"))["last"]
        if charged is None:
            continue
        waits = _changed_since(joint, charged)
        for row in split_of(joint).rows:
            if row.member:
                found[row.member.pk] += row.posted if waits else row.owes
    return found


def _changed_since(joint: JointOrder, then: datetime) -> bool:
    orders = PurchaseOrder.objects.filter(joint_purchase__joint=joint)
    return (
        Receipt.objects.filter(order__in=orders, at__gte=then).exists()
        or Invoice.objects.filter(Q(at__gte=then) | Q(reversed_at__gte=then), order__in=orders).exists()
        or Reply.objects.filter(order__in=orders, taken_at__gte=then).exists()
        or PurchaseOrderLine.objects.filter(order__in=orders, closed_at__gte=then).exists()
        or orders.filter(Q(cancelled_at__gte=then) | Q(changed_at__gte=then)).exists()
        or all_entries_of(joint).filter(at__gte=then).exclude(reverses=None).exists()
    )
