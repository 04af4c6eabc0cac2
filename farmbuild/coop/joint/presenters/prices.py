"""What the pages of prices and of closing show: the best offers for the sum, and each member's saving."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.catalogue.words import breaks_in_words
from farmbuild.common.speaking import said_count
from farmbuild.coop.joint.offers import Preview, PreviewRow, preview_of
from farmbuild.coop.joint.presenters.joint import name_of, share_bars
from farmbuild.coop.models import JointOrder
from farmbuild.measure import format_money


@dataclass(frozen=True)
class Prices:
    """``own``: in a sentence what the cooperative pays itself. ``hidden``: columns of the lines that say nothing."""

    answer: str
    bars: SafeString | str
    members: Sequence[dict[str, Any]]
    own: str
    lines: Sequence[dict[str, Any]]
    hidden: Sequence[str]
    problems: Sequence[str]
    goods: Decimal
    delivery: Decimal
    tax: Decimal
    total: Decimal
    seen: str


def prices_of(*, joint: JointOrder) -> Prices:
    preview = preview_of(joint)
    currency = joint.organisation.currency
    orders, lines = preview.orders, _lines(joint, preview)
    return Prices(
        answer=_answer(preview, currency),
        bars=share_bars(
            joint,
            gettext("What each member pays together and alone"),
            [(row.member, row.together, row.alone) for row in preview.rows],
        ),
        members=[
            {
                "member": name_of(joint, row.member),
                "together": row.together,
                "alone": row.alone,
                "saving": row.saving,
            }
            for row in preview.rows
            if row.member
        ],
        own=" ".join(_own(row, currency) for row in preview.rows if not row.member),
        lines=lines,
        hidden=[name for name in ("spare", "breaks") if not any(line[name] for line in lines)],
        problems=preview.not_offered,
        goods=sum((order.goods for order in orders), Decimal(0)),
        delivery=sum((order.delivery for order in orders), Decimal(0)),
        tax=sum((order.tax for order in orders), Decimal(0)),
        total=preview.total,
        seen=preview.seen,
    )


def _answer(preview: Preview, currency: str) -> str:
    if not preview.orders:
        return gettext("There is nothing to order yet.")
    total = format_money(preview.members_total, currency)
    if preview.saving <= 0:
        return gettext("Together it comes to %(total)s; nobody saves by it.") % {"total": total}
    alone = format_money(preview.alone_total, currency)
    return gettext("Together %(total)s, alone %(alone)s: members save %(saving)s.") % {
        "total": total,
        "alone": alone,
        "saving": format_money(preview.saving, currency),
    }


def _own(row: PreviewRow, currency: str) -> str:
    more = said_count(row.pieces, "piece")
    return gettext("%(together)s is the cooperative’s own, for %(more)s more than members want.") % {
        "together": format_money(row.together, currency),
        "more": more,
    }


def _lines(joint: JointOrder, preview: Preview) -> list[dict[str, Any]]:
    currency = joint.organisation.currency
    names = dict(Supplier.objects.of(joint.organisation).values_list("code", "name"))
    keys = {line.offer.removeprefix("offer-") for order in preview.orders for line in order.lines}
    named = Q(made_as__in=keys) | Q(made_as=None, pk__in=keys)
    offers = Offer.objects.filter(named, supplier__organisation=joint.organisation).prefetch_related("breaks")
    breaks = {offer.ref: [(b.from_quantity, b.unit_price) for b in offer.breaks.all()] for offer in offers}
    return [
        {
            "what": line.description,
            "supplier": names.get(order.supplier, order.supplier),
            "quantity": line.quantity,
            "spare": line.quantity - line.needed,
            "unit_price": line.unit_price,
            "amount": line.line_total,
            "breaks": breaks_in_words(breaks[line.offer], currency) if len(breaks.get(line.offer, ())) > 1 else "",
        }
        for order in preview.orders
        for line in order.lines
    ]
