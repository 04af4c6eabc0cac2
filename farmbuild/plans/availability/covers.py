"""Orders that already cover what runs short: drafts that wait to be sent, and what went out and comes too late."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.urls import reverse

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.orgs.models import Organisation

#: Key of the material, and the length of one.
Key = tuple[int, Decimal | None]


@dataclass(frozen=True)
class Cover:
    """``quantity`` pieces on one order; ``day``: by which a draft goes out, on which what was sent comes."""

    order: str
    supplier: str
    quantity: int
    sent: bool
    day: date

    @property
    def url(self) -> str:
        return reverse("buying:order", args=[self.order])


def draft_covers(*, organisation: Organisation, only: list[int] | None) -> dict[Key, list[Cover]]:
    """What drafts would bring, the first to go out first; one query. ``only``: keys of the materials asked for."""
    lines = PurchaseOrderLine.objects.filter(
        order__organisation=organisation, order__state=PurchaseOrder.State.DRAFT
    ).order_by("order__order_by", "order", "position")
    lines = lines.filter(material__in=only) if only else lines
    found: dict[Key, list[Cover]] = defaultdict(list)
    for pk, length, quantity, number, supplier, day in lines.values_list(
        "material", "length", "quantity", "order__number", "order__supplier__name", "order__order_by"
    ):
        _add(found[pk, length], Cover(number, supplier, quantity, sent=False, day=day))
    return found


def sent_covers(lines: Iterable[PurchaseOrderLine]) -> dict[Key, list[Cover]]:
    """What ``lines`` of sent orders, with ``waited`` pieces each, bring on which day."""
    found: dict[Key, list[Cover]] = defaultdict(list)
    for line in lines:
        cover = Cover(line.order.number, str(line.order.supplier), line.waited, sent=True, day=line.due_on)
        _add(found[line.material_id, line.length], cover)
    return found


def _add(covers: list[Cover], new: Cover) -> None:
    """Lines of one order and day are one cover."""
    for at, old in enumerate(covers):
        if (old.order, old.day) == (new.order, new.day):
            covers[at] = Cover(old.order, old.supplier, old.quantity + new.quantity, old.sent, old.day)
            return
    covers.append(new)


def after(covers: Iterable[Cover], short_on: date, *, today: date) -> list[Cover]:
    """Of what was sent, what comes after that day; what should have come before today comes tomorrow at the soonest."""
    tomorrow = today + timedelta(days=1)
    late = [cover for cover in covers if (cover.day if cover.day >= today else tomorrow) > short_on]
    return sorted(late, key=lambda cover: (cover.day, cover.order))
