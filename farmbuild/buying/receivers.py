"""What orders answer when organisations ask."""

from __future__ import annotations

from typing import Any

from farmbuild.buying.models import PurchaseOrder
from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    orders = PurchaseOrder.objects.of(organisation).count()
    return [count_noun(orders, "order")] * bool(orders)
