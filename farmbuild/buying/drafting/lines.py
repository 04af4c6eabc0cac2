"""What changes of lines share: looking them up, checking what is typed, and saying what changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import F
from django.utils.translation import gettext

from farmbuild.buying.drafting.cover import CoverChanges
from farmbuild.buying.drafting.store import lines_to_work_out
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_count, format_decimal
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import Site


def with_line(order: PurchaseOrder, line: PurchaseOrderLine) -> tuple[list[PurchaseOrderLine], PurchaseOrderLine]:
    """All lines of the order, and this one of them."""
    lines = lines_to_work_out(order)
    for row in lines:
        row.order = order
        if row.pk == line.pk:
            found = row
            break
    else:
        raise ValidationError(gettext("This line was taken off the order meanwhile. Open the order again."))
    return lines, found


def agree(effects: list[str], agreed: str) -> None:
    """Raises CoverChanges unless ``agreed`` is the yes to just these sentences."""
    if effects and (asked := CoverChanges(effects)).agreed != agreed:
        raise asked


def check_own(organisation: Organisation, **rows: Any) -> None:
    for name, row in rows.items():
        if row is not None and row.organisation_id != organisation.pk:
            raise ValidationError({name: gettext("Choose one from the list.")})


def check_quantity(line: PurchaseOrderLine, quantity: int) -> None:
    if not 1 <= quantity <= MAX_QUANTITY:
        raise ValidationError(
            {
                "quantity": gettext("Type a whole number from 1 to %(max_quantity)s.")
                % {"max_quantity": format_count(MAX_QUANTITY)}
            }
        )
    if left := quantity % line.pack:
        less, more = quantity - left, quantity - left + line.pack
        counts = (
            gettext("%(less)s or %(more)s") % {"less": format_count(less), "more": format_count(more)}
            if less
            else format_count(more)
        )
        raise ValidationError(
            {
                "quantity": gettext("It is sold in packs of %(pack)s. Type %(counts)s.")
                % {"pack": format_count(line.pack), "counts": counts}
            }
        )


def elsewhere(order: PurchaseOrder, site: Site | None) -> Site | None:
    """None where the line goes where the order goes."""
    return None if site is None or site.pk == order.delivery_site_id else site


def line_words(line: PurchaseOrderLine) -> str:
    return f"{format_count(line.quantity)} of {line.description}, to {line.deliver_to} by {day(line.need_by)}"


def moved(name: str, old: object, new: object) -> str:
    if old == new:
        return ""
    shown = [
        day(one) if isinstance(one, date) else format_count(one) if isinstance(one, int) else one for one in (old, new)
    ]
    shown = [format_decimal(one.normalize()) if isinstance(one, Decimal) else str(one) or "nothing" for one in shown]
    return f"{name} {shown[0]} → {shown[1]}."


def said(parts: list[str]) -> str:
    return " ".join(filter(None, parts)) or "Saved without a change."


def tidy(text: str) -> str:
    return " ".join(text.split())


def close_gap(order: PurchaseOrder, *, after: int) -> None:
    """Positions run without gaps: a supplier's answer names lines by them. Two steps, as none may be there twice."""
    later = order.lines.filter(position__gt=after)
    later.update(position=F("position") + 1_000_000)
    order.lines.filter(position__gt=1_000_000).update(position=F("position") - 1_000_001)
