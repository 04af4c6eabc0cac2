"""Orders that wait to go out, by the week in which they have to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import MOST_TO_SEND, drafts_to_send
from farmbuild.common.pages import first_rows
from farmbuild.orgs.models import Organisation


@dataclass(frozen=True)
class Week:
    """From a Monday on. ``late``: the day of its last order is over."""

    first: date
    orders: tuple[PurchaseOrder, ...]
    late: bool


def weeks_to_send(*, organisation: Organisation, today: date) -> tuple[list[Week], bool]:
    """Weeks in their order, and whether there are more orders than are listed; one query."""
    rows, more = first_rows(drafts_to_send(organisation=organisation), MOST_TO_SEND)
    weeks = groupby(rows, key=lambda order: order.order_by - timedelta(days=order.order_by.weekday()))
    found = [(first, tuple(orders)) for first, orders in weeks]
    return [Week(first, orders, orders[-1].order_by < today) for first, orders in found], more
