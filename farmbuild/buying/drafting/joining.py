"""Two drafts to one supplier become one order, and a line is split between two sites or days."""

from __future__ import annotations

from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.drafting.bridge import clear
from farmbuild.buying.drafting.cover import share_holds
from farmbuild.buying.drafting.lines import agree, check_own, check_quantity, elsewhere, line_words, with_line
from farmbuild.buying.drafting.store import lines_to_work_out, lock_draft, lock_drafts, note_change, store
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.selectors import JOINED
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site


@needs(Act.PLAN)
@transaction.atomic
def split_line(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    line: PurchaseOrderLine,
    quantity: int,
    delivery_site: Site,
    need_by: date,
    agreed: str = "",
) -> PurchaseOrderLine:
    """``quantity`` pieces of the line go to another site or come on another day, with what houses there hold of it.

    Raises ValidationError where nothing would be left, and CoverChanges where a house would get its pieces too late.
    """
    current = lock_draft(organisation=organisation, order=order)
    check_own(organisation, delivery_site=delivery_site)
    lines, row = with_line(current, line)
    check_quantity(row, quantity)
    if quantity >= row.quantity:
        raise ValidationError(
            {
                "quantity": gettext("Type fewer than the %(quantity)s on the line, or change the line itself.")
                % {"quantity": format_count(row.quantity)}
            }
        )
    site = elsewhere(current, delivery_site)
    if (site, need_by) == (elsewhere(current, row.delivery_site), row.need_by):
        raise ValidationError({"delivery_site": gettext("Choose another site, or type another day, for the new line.")})
    part = PurchaseOrderLine(
        order=current,
        position=current.lines.aggregate(last=Max("position"))["last"] + 1,
        needed=quantity,
        quantity=quantity,
        need_by=need_by,
        delivery_site=site,
        line_total=0,
        tax=0,
        **{name: getattr(row, name) for name in _KEPT},
    )
    share = share_holds(line=row, part=part)
    agree(share.effects, agreed)
    part.save()
    share.carry_out(part)
    row.quantity -= quantity
    row.needed = row.quantity
    row.save(update_fields=["quantity", "needed"])
    what = f"Split line {row.position}: {line_words(part)}. {format_count(row.quantity)} stay."
    store(order=current, lines=[*lines, part], user=user, what=what)
    return part


_KEPT = ("material", "description", "supplier_code", "length", "pack", "offer", "unit_price")


@needs(Act.PLAN)
@transaction.atomic
def join_orders(
    *, organisation: Organisation, user: User | None, order: PurchaseOrder, other: PurchaseOrder
) -> PurchaseOrder:
    """The lines of ``other``, with what houses hold of them, go onto ``order``; ``other`` is cancelled and says so.

    Each line keeps its site and day; one delivery is charged where two were.
    """
    if order.pk == other.pk:
        raise ValidationError({"other": gettext("Choose another order.")})
    current, added = lock_drafts(organisation=organisation, orders=[order, other])
    if current.supplier_id != added.supplier_id:
        raise ValidationError({"other": gettext("Choose an order to %(supplier)s.") % {"supplier": current.supplier}})
    lines, more = lines_to_work_out(current), lines_to_work_out(added)
    if not more:
        raise ValidationError(
            {
                "other": gettext("Order %(added_number)s has no lines. Cancel it instead.")
                % {"added_number": added.number}
            }
        )
    last = max((line.position for line in lines), default=0)
    for position, line in enumerate(more, last + 1):
        line.delivery_site = elsewhere(current, line.delivery_site or added.delivery_site)
        line.order, line.position = current, position
    PurchaseOrderLine.objects.bulk_update(more, ["order", "position", "delivery_site"], batch_size=200)
    both = " ".join(dict.fromkeys(filter(None, [current.note, added.note])))
    current.note = both if len(both) <= 300 else current.note
    clear(added)
    added.state, added.cancelled_at, added.cancelled_by = PurchaseOrder.State.CANCELLED, timezone.now(), user
    added.cancel_reason, added.changed_at = f"{JOINED} {current.number}", timezone.now()
    added.save()
    note_change(order=added, user=user, what=f"Joined into order {current.number}.")
    what = f"Joined with order {added.number}: {'; '.join(line_words(line) for line in more)}."
    return store(order=current, lines=[*lines, *more], user=user, what=what)
