"""Reads for the pages on which drafts are changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet

from farmbuild.buying.models import OrderChange, PurchaseOrder
from farmbuild.buying.selectors import orders_of
from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.catalogue.selectors import offers_of
from farmbuild.orgs.models import Organisation


def offers_to_order(*, organisation: Organisation, supplier: Supplier, today: date) -> QuerySet[Offer]:
    """Offers of the supplier that still hold and have a price."""
    rows = offers_of(organisation=organisation, supplier=supplier).filter(breaks__isnull=False).distinct()
    return rows.filter(Q(valid_until=None) | Q(valid_until__gte=today))


def changes_of(*, order: PurchaseOrder) -> QuerySet[OrderChange]:
    """The last change first, with who made it."""
    return order.changes.select_related("by").order_by("-pk")


def joinable(*, order: PurchaseOrder) -> QuerySet[PurchaseOrder]:
    """Other drafts to the same supplier that have lines."""
    drafts = orders_of(organisation=order.organisation, state=PurchaseOrder.State.DRAFT)
    return drafts.filter(supplier=order.supplier_id, line_count__gt=0).exclude(pk=order.pk)


def below_minimum(*, order: PurchaseOrder) -> Decimal | None:
    """The smallest order that the supplier takes, where a draft made or changed by hand does not reach it."""
    least = order.supplier.minimum_order
    draft = order.state == PurchaseOrder.State.DRAFT and not order.follows_plan
    return least if draft and order.goods < least else None


def silent_lines(*, order: PurchaseOrder, most: int = 12) -> list[str]:
    """The first things of a draft of which nobody has said how long they take."""
    offers = Offer.objects.filter(supplier=OuterRef("order__supplier"), material=OuterRef("material"))
    # What is counted has no length, in offers and on lines.
    said = offers.filter(Q(length=OuterRef("length")) | Q(length=None), lead_days__isnull=False)
    rows = order.lines.filter(Q(offer__isnull=False, offer__lead_days=None) | Q(offer=None) & ~Exists(said))
    return list(dict.fromkeys(rows.order_by("position").values_list("description", flat=True)[:most]))
