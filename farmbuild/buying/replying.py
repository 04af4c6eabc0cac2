"""What a supplier answers on the order sheet: read, compared with the order line by line, and taken over when told."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from hashlib import sha256
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Reply
from farmbuild.buying.sending import lock_order
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.replies import ReplyLine, read_reply

#: What the rows of a reply are; only the first two are taken over.
SAME, DIFFERS, BAD, MISSING, ADDED = "same", "differs", "bad", "missing", "added"


@needs(Act.SEND)
def make_reply(*, organisation: Organisation, user: User, order: PurchaseOrder, data: bytes, filename: str) -> Reply:
    """Read a sheet and keep what it says beside the order. Raises WorkbookError when it is not this order's sheet."""
    order = PurchaseOrder.objects.of(organisation).get(pk=order.pk)
    if not order.is_open:
        raise WorkbookError(
            gettext("Order %(number)s is %(state)s; a reply is read while something is on order.")
            % {"number": order.number, "state": order.get_state_display().lower()}
        )
    sheet = read_reply(data, filename, currency=order.currency)
    if sheet.order and sheet.order != order.number:
        raise WorkbookError(
            gettext(
                "%(filename)s is the sheet of order %(order)s, not of %(number)s. Send it on the page of that order."
            )
            % {"filename": filename, "order": sheet.order, "number": order.number}
        )
    rows = compare(order.lines.all(), sheet.lines)
    reply = Reply(
        organisation=organisation,
        order=order,
        filename=filename[-200:],
        sha256=sha256(data).hexdigest(),
        read_by=user,
        rows=rows,
        bad_rows=sum(row["kind"] == BAD for row in rows),
        differences=sum(row["kind"] != SAME for row in rows),
    )
    reply.clean_fields(exclude=["organisation", "order", "read_by", "taken_by"])
    reply.save()
    return reply


def compare(lines: Iterable[PurchaseOrderLine], answers: Iterable[ReplyLine]) -> list[dict[str, Any]]:
    """Rows that JSON can hold, in the order of the sheet, the lines that it leaves out last."""
    by_position = {line.position: line for line in lines}
    seen: dict[int, int] = {}
    rows = []
    for answer in answers:
        line = by_position.get(answer.number or 0)
        problems = dict(answer.problems)
        if line is not None and line.position in seen:
            problems["No."] = gettext("Row %(seen)s has the number %(position)s too. Leave one of them out.") % {
                "seen": seen[line.position],
                "position": line.position,
            }
        elif line is not None:
            seen[line.position] = answer.row
            if not _same_thing(line, answer):
                problems["Item"] = gettext(
                    "Line %(position)s of the order is %(description)s, and here stands %(item)s. Put the "
                    "number of the line that is meant."
                ) % {"position": line.position, "description": line.description, "item": answer.item}
        rows.append(_row(line, answer, problems))
    missing = [line for position, line in by_position.items() if position not in seen]
    return rows + [
        _ordered(line) | {"row": None, "kind": MISSING, "item": line.description, "remark": "", "problems": {}}
        for line in missing
    ]


def _same_thing(line: PurchaseOrderLine, answer: ReplyLine) -> bool:
    if line.supplier_code and answer.code == line.supplier_code:
        return True
    return answer.item.casefold() in line.description.casefold()


def _ordered(line: PurchaseOrderLine | None) -> dict[str, Any]:
    if line is None:
        return {"position": None, "ordered": None, "price": None, "quantity": None, "promised": None}
    return {
        "position": line.position,
        "ordered": [str(line.unit_price), line.quantity, line.need_by.isoformat()],
        "price": None,
        "quantity": None,
        "promised": None,
    }


def _row(line: PurchaseOrderLine | None, answer: ReplyLine, problems: dict[str, str]) -> dict[str, Any]:
    row = _ordered(line) | {"row": answer.row, "item": answer.item, "remark": answer.remark, "problems": problems}
    price, promised, quantity = answer.price, answer.promised, answer.quantity
    # What stands in our own columns is an answer only where it was written over.
    if price is None and not (line and answer.price_over == line.unit_price):
        price = answer.price_over
    if promised is None and not (line and answer.needed_by == line.need_by):
        promised = answer.needed_by
    if line and quantity == line.quantity:
        quantity = None
    row["price"] = None if price is None else str(price)
    row["promised"] = None if promised is None else promised.isoformat()
    row["quantity"] = quantity
    if problems:
        row["kind"] = BAD
    elif line is None:
        row["kind"] = ADDED
    else:
        changed = (price is not None and price != line.unit_price) or quantity is not None or answer.remark
        late = promised is not None and promised > line.need_by
        row["kind"] = DIFFERS if changed or late else SAME
    return row


@needs(Act.SEND)
@transaction.atomic
def apply_reply(*, organisation: Organisation, user: User, order: PurchaseOrder, reply: Reply) -> int:
    """Put what the reply says on the order's lines; gives how many lines it says something about.

    Nothing that was ordered changes. Raises ValidationError when the reply has bad rows or was taken over before.
    """
    current = lock_order(organisation=organisation, order=order)
    answer = Reply.objects.of(organisation).select_for_update(no_key=True).get(pk=reply.pk, order=current)
    if answer.taken_at:
        raise ValidationError(gettext("This reply has been applied already."))
    if answer.bad_rows:
        raise ValidationError(
            gettext("Some rows are not right yet, so nothing was applied. Ask for a corrected sheet.")
        )
    if not current.is_open:
        raise ValidationError(
            gettext("Order %(current_number)s is %(lower)s; nothing of it is on order any more.")
            % {"current_number": current.number, "lower": current.get_state_display().lower()}
        )
    rows = {row["position"]: row for row in answer.rows if row["kind"] in (SAME, DIFFERS)}
    told = []
    for line in current.lines.filter(position__in=list(rows)) if len(rows) <= 500 else current.lines.all():
        row = rows.get(line.position)
        if row and _set_confirmed(line, row):
            told.append(line)
    PurchaseOrderLine.objects.bulk_update(
        told, ["confirmed_price", "confirmed_quantity", "promised_on", "remark"], batch_size=200
    )
    answer.taken_at, answer.taken_by = timezone.now(), user
    answer.save(update_fields=["taken_at", "taken_by"])
    return len(told)


def _set_confirmed(line: PurchaseOrderLine, row: dict[str, Any]) -> bool:
    """Write what was said on the line; what was not said stays as it was said before."""
    changed = False
    if row["price"] is not None:
        line.confirmed_price, changed = Decimal(row["price"]), True
    if row["quantity"] is not None:
        line.confirmed_quantity, changed = row["quantity"], True
    if row["promised"] is not None:
        line.promised_on, changed = date.fromisoformat(row["promised"]), True
    if row["remark"]:
        line.remark, changed = row["remark"], True
    if changed:
        line.clean_fields(exclude=["order", "material", "closed_by"])
    return changed
