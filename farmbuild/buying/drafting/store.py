"""A draft is taken up to be changed, and stored with what it then comes to."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.drafting.bridge import find_offer, work_out
from farmbuild.buying.models import OrderChange, PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.selectors import offers_of
from farmbuild.common.speaking import said_day
from farmbuild.measure import format_decimal
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User

State = PurchaseOrder.State
#: Above it an order is a slip of the key; the columns hold a little more.
MAX_TOTAL = Decimal(10) ** 12
_OF_ORDER = (
    *("delivery_site", "order_by", "need_by", "goods", "delivery", "tax", "total", "tax_percent", "tax_included"),
    *("note", "changed_at", "asked_at", "asked_by"),
)
_OF_LINE = ("unit_price", "line_total", "tax", "tax_percent", "late_days", "offer")


def lock_organisation(organisation: Organisation) -> Organisation:
    """Drafts are changed, and plans accepted, one after the other."""
    return Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)


def lock_drafts(*, organisation: Organisation, orders: Iterable[PurchaseOrder]) -> list[PurchaseOrder]:
    """These orders as they are now, in their order, held until the transaction ends.

    Raises ValidationError where one is no draft any more, or in a currency that is not that of the offers.
    """
    organisation = lock_organisation(organisation)
    rows = PurchaseOrder.objects.of(organisation).select_for_update(of=("self",), no_key=True)
    rows = rows.select_related("supplier", "delivery_site", "plan").defer("plan__inputs", "plan__result").order_by("pk")
    found = {row.pk: row for row in rows.filter(pk__in=[order.pk for order in orders])}
    locked = [found[order.pk] for order in orders]
    for order in locked:
        order.organisation = organisation
        _check_draft(order)
    return locked


def lock_draft(*, organisation: Organisation, order: PurchaseOrder) -> PurchaseOrder:
    return lock_drafts(organisation=organisation, orders=[order])[0]


def _check_draft(order: PurchaseOrder) -> None:
    if order.state != State.DRAFT:
        on = gettext(" It went out on %(day)s.") % {"day": said_day(order.sent_on)} if order.sent_on else ""
        raise ValidationError(
            gettext("Order %(order_number)s is %(lower)s, so it is not changed any more.%(on)s")
            % {"order_number": order.number, "lower": order.get_state_display().lower(), "on": on}
        )
    if order.currency != order.organisation.currency:
        raise ValidationError(
            gettext(
                "Order %(order_number)s is in %(currency)s, and your offers are in %(currency_2)s now. "
                "Cancel it, and make a new one."
            )
            % {"order_number": order.number, "currency": order.currency, "currency_2": order.organisation.currency}
        )


def lines_to_work_out(order: PurchaseOrder) -> list[PurchaseOrderLine]:
    """Its lines with their offers; one of a plan finds the offers by which it was planned, the first time."""
    rows = order.lines.select_related("material", "delivery_site", "offer__supplier", "offer__material")
    lines = list(rows.prefetch_related("offer__breaks"))
    if order.follows_plan:
        offers = list(offers_of(organisation=order.organisation, supplier=order.supplier))
        for line in lines:
            line.offer = find_offer(line, offers)
    return lines


def store(
    *,
    order: PurchaseOrder,
    lines: list[PurchaseOrderLine],
    user: User | None,
    what: str,
    added: PurchaseOrderLine | None = None,
) -> PurchaseOrder:
    """Work the order out as it stands today, and keep who changed what; ``added`` had no price yet.

    Raises ValidationError at ``quantity``.
    """
    organisation = order.organisation
    before = {line.pk: line.unit_price for line in lines if line != added}
    included = order.tax_included
    work_out(order, lines, buyer=organisation, as_of=today_of(organisation=organisation))
    if included != order.tax_included and before:
        what += f" Prices now {'include the tax' if order.tax_included else 'are before tax'}, as set for all orders."
    if order.total >= MAX_TOTAL:
        raise ValidationError(
            {
                "quantity": gettext("The order would come to %(total)s. Type fewer pieces.")
                % {"total": format_decimal(order.total, 2)}
            }
        )
    order.changed_at = timezone.now()
    # What somebody asked for was another order.
    order.asked_at = order.asked_by = None
    order.full_clean(
        exclude=["organisation", "supplier", "delivery_site", "plan", "sent_by", "cancelled_by", "asked_by"]
    )
    order.save(update_fields=_OF_ORDER)
    PurchaseOrderLine.objects.bulk_update(lines, _OF_LINE, batch_size=200)
    for line in lines:
        if before.get(line.pk, line.unit_price) != line.unit_price:
            what += (
                f" {line.description}: price of one"
                f" {format_decimal(before[line.pk].normalize())} → {format_decimal(line.unit_price.normalize())}."
            )
    note_change(order=order, user=user, what=what)
    return order


def note_change(*, order: PurchaseOrder, user: User | None, what: str) -> None:
    shown = what if len(what) <= 600 else f"{what[:599]}…"
    OrderChange.objects.create(order=order, by=user, what=shown)
