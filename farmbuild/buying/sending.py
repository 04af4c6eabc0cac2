"""An order goes out, is called off, or the rest of it is given up. Each holds the order's row while it looks."""

from __future__ import annotations

import logging
from datetime import date
from functools import partial
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Exists, OuterRef
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.files import fresh_file
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, SentWorkbook
from farmbuild.buying.outdated import changed_houses
from farmbuild.buying.reserving.services import release_lines
from farmbuild.buying.second_person import ask, asks_only
from farmbuild.common.speaking import said_day, said_list
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

logger = logging.getLogger(__name__)
State = PurchaseOrder.State


def lock_order(*, organisation: Organisation, order: PurchaseOrder) -> PurchaseOrder:
    """The order as it is now; nobody else changes it until the transaction ends."""
    return (
        PurchaseOrder.objects.of(organisation)
        .select_for_update(of=("self",), no_key=True)
        .select_related("plan", "supplier", "delivery_site", "organisation")
        .get(pk=order.pk)
    )


def update_state(order: PurchaseOrder) -> None:
    """Sent, part received or received, by what has come. ``order`` is held."""
    lines = order.lines.values_list("quantity", "arrived", "damaged", "closed_at")
    arrived, to_come = False, False
    for quantity, came, damaged, closed in lines:
        arrived |= came > 0
        to_come |= closed is None and came - damaged < quantity
    state = State.RECEIVED if arrived and not to_come else State.PART if arrived else State.SENT
    if order.state != state:
        order.state = state
        order.save(update_fields=["state"])


def _reason(text: str, example: str) -> str:
    text = " ".join(text.split())
    if not text:
        raise ValidationError(
            {"reason": gettext("Say why in a few words, for example: %(example)s.") % {"example": example}}
        )
    return text


@needs(Act.SEND)
@transaction.atomic
def send_order(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    sent_on: date,
    how: str,
    as_it_is: bool = False,
) -> PurchaseOrder:
    """The draft becomes an order: its spreadsheet is made once more, dated ``sent_on``, and kept. Above what ``user``
    may send it stays a draft and is marked as asked for.

    Raises ValidationError when it is no draft any more, and when houses of its plan have changed since it was worked
    out and nobody said to send it ``as_it_is``.
    """
    current = lock_order(organisation=organisation, order=order)
    if current.state != State.DRAFT:
        on = gettext(" It went out on %(day)s.") % {"day": said_day(current.sent_on)} if current.sent_on else ""
        raise ValidationError(
            gettext("Order %(current_number)s is %(lower)s and is not sent again.%(on)s")
            % {"current_number": current.number, "lower": current.get_state_display().lower(), "on": on}
        )
    if not current.lines.exists():
        raise ValidationError(
            gettext("Nothing stands on order %(current_number)s. Add a line, then send it.")
            % {"current_number": current.number}
        )
    if not as_it_is and (changed := changed_houses(order=current)):
        raise ValidationError(
            {
                "as_it_is": gettext(
                    "Order %(current_number)s was worked out before %(changed)s changed. Plan again, or tick "
                    "that it goes out as it is."
                )
                % {"current_number": current.number, "changed": said_list(changed)}
            }
        )
    if asks_only(order=current, user=user):
        ask(order=current, user=user)
        return current
    file = fresh_file(order=current, order_date=sent_on)
    SentWorkbook.objects.create(order=current, name=file.name, data=file.data, sha256=sha256(file.data).hexdigest())
    current.state, current.sent_on, current.sent_how, current.sent_by = State.SENT, sent_on, how.strip(), user
    current.full_clean(exclude=["plan", "supplier", "delivery_site", "organisation"])
    current.save(update_fields=["state", "sent_on", "sent_how", "sent_by"])
    transaction.on_commit(partial(logger.info, "Order %s sent", current.number, extra={"what": "sent"}))
    return current


@needs(Act.SEND)
@transaction.atomic
def cancel_order(*, organisation: Organisation, user: User | None, order: PurchaseOrder, reason: str) -> PurchaseOrder:
    """Call an order off of which nothing has come; houses that hold what was to come hold it no more.

    Raises ValidationError otherwise, and without a reason.
    """
    reason = _reason(reason, gettext("bought from another supplier"))
    current = lock_order(organisation=organisation, order=order)
    if current.state == State.CANCELLED:
        raise ValidationError(
            gettext("Order %(current_number)s is cancelled already.") % {"current_number": current.number}
        )
    if current.state not in (State.DRAFT, State.SENT) or current.lines.filter(arrived__gt=0).exists():
        raise ValidationError(
            gettext(
                "Goods of order %(current_number)s have come, so it cannot be cancelled. Cancel what is "
                "still on order, or reverse the receipts first."
            )
            % {"current_number": current.number}
        )
    release_lines(lines=list(current.lines.filter(reserved__gt=0).values_list("pk", flat=True)))
    current.state, current.cancelled_at, current.cancelled_by = State.CANCELLED, timezone.now(), user
    current.cancel_reason = reason
    current.full_clean(exclude=["plan", "supplier", "delivery_site", "organisation"])
    current.save(update_fields=["state", "cancelled_at", "cancelled_by", "cancel_reason"])
    return current


@needs(Act.ACCEPT)
@transaction.atomic
def cancel_drafts(*, organisation: Organisation, user: User | None, plan: int, reason: str) -> int:
    """Drafts of the plan with that key that no house holds anything of are cancelled; gives how many there were.

    What went out stays.
    """
    held = PurchaseOrderLine.objects.filter(order=OuterRef("pk"), reserved__gt=0)
    drafts = PurchaseOrder.objects.of(organisation).filter(~Exists(held), plan=plan, state=State.DRAFT)
    rows = list(drafts.select_for_update(of=("self",), no_key=True).order_by("pk"))
    for row in rows:
        cancel_order(organisation=organisation, user=user, order=row, reason=reason)
    return len(rows)


@needs(Act.SEND)
@transaction.atomic
def close_short(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    reason: str,
    line: PurchaseOrderLine | None = None,
) -> int:
    """The rest of ``line``, or of every line, is not waited for or held any more; gives how many lines were closed."""
    reason = _reason(reason, gettext("no longer made"))
    current = lock_order(organisation=organisation, order=order)
    if current.state != State.PART:
        raise ValidationError(
            gettext("Nothing of order %(current_number)s has come, so cancel it instead.")
            % {"current_number": current.number}
            if current.state == State.SENT
            else gettext("Order %(current_number)s is %(lower)s; there is nothing to cancel.")
            % {"current_number": current.number, "lower": current.get_state_display().lower()}
        )
    rows = current.lines.filter(closed_at=None) if line is None else current.lines.filter(closed_at=None, pk=line.pk)
    waiting = [row.pk for row in rows.only("quantity", "arrived", "damaged", "closed_at") if row.to_come]
    if not waiting:
        raise ValidationError(gettext("Nothing more is on order there."))
    release_lines(lines=waiting)
    for start in range(0, len(waiting), 500):
        PurchaseOrderLine.objects.filter(pk__in=waiting[start : start + 500]).update(
            closed_at=timezone.now(), closed_by=user, closed_reason=reason[:200]
        )
    update_state(current)
    return len(waiting)
