"""What each member got and owes of a joint order by all that is known now, what was posted of it, and what to tell."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext

from farmbuild.buying.landing.bridge import tax_percent_in
from farmbuild.buying.models import Invoice, InvoiceLine, PurchaseOrder, PurchaseOrderLine, ReceiptLine
from farmbuild.catalogue.models import Material
from farmbuild.common.speaking import said_count
from farmbuild.coop.joint.bridge import (
    Bill,
    DamageRule,
    Item,
    Line,
    Share,
    digest_of,
    item_words,
    net,
    split,
    unpack,
)
from farmbuild.coop.joint.offers import alone_cost, item_of, wanted_by
from farmbuild.coop.joint.selectors import members_of, needs_of, orders_of
from farmbuild.coop.models import Handout, JointNeed, JointOrder, MemberEntry
from farmbuild.crew.models import Member
from farmbuild.measure import format_count, line_tax, line_total, round_money, share_out, tax_within

_NONE = Decimal(0)


@dataclass(frozen=True)
class SplitItem:
    """A thing of the joint order, as the columns stand."""

    key: Item
    material: Material
    length: Decimal | None
    words: str


@dataclass(frozen=True)
class SplitRow:
    """``member`` None: what packs and breaks brought beyond, which is the cooperative's own.

    ``ordered``, ``got`` and ``tax`` stand in the order of the items.
    """

    member: Member | None
    ordered: tuple[int, ...]
    got: tuple[int, ...]
    goods: Decimal
    tax: tuple[Decimal, ...]
    delivery: Decimal
    owes: Decimal
    alone: Decimal
    posted: Decimal
    share: Share

    @property
    def to_post(self) -> Decimal:
        return self.owes - self.posted

    @property
    def saving(self) -> Decimal:
        return self.alone - self.owes


@dataclass(frozen=True)
class SplitPage:
    """``remarks``: sentences. ``seen``: of just these amounts. ``went_out``: an order of it was sent."""

    rows: tuple[SplitRow, ...]
    items: tuple[SplitItem, ...]
    lines: tuple[Line, ...]
    remarks: tuple[str, ...]
    went_out: bool
    seen: str

    @property
    def total(self) -> Decimal:
        return sum((row.owes for row in self.rows), _NONE)


def source_of(joint: JointOrder, part: int = 1) -> str:
    """What entries of it are posted for; later bills bring further parts."""
    return f"order {joint.pk}" if part == 1 else f"order {joint.pk} part {part}"


def all_entries_of(joint: JointOrder) -> QuerySet[MemberEntry]:
    """Entries of its members, with those that were taken back and those that took them back."""
    own = Q(source=source_of(joint)) | Q(source__startswith=f"{source_of(joint)} part ")
    return MemberEntry.objects.of(joint.organisation).filter(own, kind=MemberEntry.Kind.ORDER)


def entries_of(joint: JointOrder) -> QuerySet[MemberEntry]:
    """Entries of its members that stand."""
    return all_entries_of(joint).filter(reverses=None, reversed_by=None)


def split_of(joint: JointOrder) -> SplitPage:
    """Once it is closed; a dozen queries, and the offers of then worked out once for the same pieces."""
    organisation = joint.organisation
    members, needs, orders = members_of(joint), needs_of(joint), orders_of(joint)
    lines = _lines_of(orders)
    bill = _bill_of(orders, lines, recovered=organisation.recovers_tax, currency=organisation.currency)
    wanted = wanted_by(members, needs)
    found = split(wanted, bill, DamageRule(joint.damage_rule))
    items = _items(needs, lines, joint)
    posted = dict(entries_of(joint).order_by().values_list("member").annotate(sum=Sum("amount")))
    market = unpack(joint.market) if joint.market else None

    def row(member: Member | None, ordered: dict[Item, int], share: Share) -> SplitRow:
        alone = _NONE
        if market and member:
            alone = alone_cost(market, dict(share.got), joint, recovered=organisation.recovers_tax)
        return SplitRow(
            member=member,
            ordered=tuple(ordered.get(item.key, 0) for item in items),
            got=tuple(share.got.get(item.key, 0) for item in items),
            goods=sum(share.goods, _NONE),
            tax=tuple(_of_item(share.tax, bill, item.key) for item in items),
            delivery=sum(share.delivery, _NONE),
            owes=share.owes,
            alone=alone,
            posted=posted.get(member.pk, _NONE) if member else _NONE,
            share=share,
        )

    rows = [row(one.member, mine, share) for one, mine, share in zip(members, wanted, found.members, strict=True)]
    if found.own.owes or any(found.own.got.values()):
        over = {item.key: _ordered(lines, item.key) - _wanted(wanted, item.key) for item in items}
        rows.append(row(None, {key: max(0, more) for key, more in over.items()}, found.own))
    return SplitPage(
        rows=tuple(rows),
        items=items,
        lines=tuple(bill.lines),
        remarks=tuple(_remarks(items, wanted, lines)),
        went_out=any(order.state != PurchaseOrder.State.DRAFT for order in orders),
        seen=digest_of([(one.member and one.member.pk, one.owes, one.posted) for one in rows]),
    )


def _of_item(amounts: Sequence[Decimal], bill: Bill, item: Item) -> Decimal:
    return sum((amount for amount, line in zip(amounts, bill.lines, strict=True) if line.item == item), _NONE)


def _wanted(wanted: Sequence[dict[Item, int]], item: Item) -> int:
    return sum(one.get(item, 0) for one in wanted)


def _ordered(lines: Sequence[PurchaseOrderLine], item: Item) -> int:
    return sum(line.quantity for line in lines if item_of_line(line) == item)


def item_of_line(line: PurchaseOrderLine) -> Item:
    return line.material.code, line.length


def item_of_handout(row: Handout) -> Item:
    return row.material.code, row.length


def _items(needs: Sequence[JointNeed], lines: Sequence[PurchaseOrderLine], joint: JointOrder) -> tuple[SplitItem, ...]:
    found: dict[Item, SplitItem] = {}
    things = [(item_of(need), need.material, need.length) for need in needs]
    things += [(item_of_line(line), line.material, line.length) for line in lines]
    for key, material, length in things:
        words = item_words(material.name, length, joint.organisation)
        found.setdefault(key, SplitItem(key, material, length, words))
    return tuple(sorted(found.values(), key=lambda item: (item.material.name, item.key[0], item.length or _NONE)))


def _lines_of(orders: Sequence[PurchaseOrder]) -> list[PurchaseOrderLine]:
    by_key = {order.pk: order for order in orders}
    rows = PurchaseOrderLine.objects.filter(order__in=by_key).select_related("material").order_by("order", "position")
    found = list(rows)
    for line in found:
        line.order = by_key[line.order_id]
    return found


def whole_of(line: PurchaseOrderLine) -> int:
    """Pieces that are there or to come. Damaged ones count once they are replaced."""
    return line.good + max(0, line.to_come - line.damaged)


def _lost_of(orders: Sequence[PurchaseOrder]) -> dict[int, int]:
    """By line of the order, damaged pieces that nobody credits."""
    rows = ReceiptLine.objects.filter(
        receipt__order__in=orders, receipt__damage_credited=False, receipt__reverses=None, receipt__reversed_by=None
    )
    return dict(rows.order_by().values_list("order_line").annotate(sum=Sum("damaged")))


@dataclass
class _Billed:
    quantity: int = 0
    goods: Decimal = _NONE
    tax: Decimal = _NONE


def _bill_of(
    orders: Sequence[PurchaseOrder], lines: Sequence[PurchaseOrderLine], *, recovered: bool, currency: str
) -> Bill:
    """What was billed, and beyond it what the orders say, of the pieces that are there or to come."""
    lost = _lost_of(orders)
    billed, delivery, told = _billed(orders, {line.pk: line for line in lines}, currency)
    made = []
    unbilled: set[int] = set()
    for line in lines:
        pieces = whole_of(line) + lost.get(line.pk, 0)
        known = billed[line.pk]
        goods, tax = known.goods, known.tax
        if pieces < known.quantity:
            goods, tax = (round_money(one * pieces / known.quantity, currency) for one in (goods, tax))
        elif more := pieces - known.quantity:
            unbilled.add(line.order_id)
            included = line.order.tax_included
            total = line_total(more, line.price_now, currency)
            percent = tax_percent_in(line, tax_included=included)
            own = (tax_within if included else line_tax)(total, percent, currency)
            extra = net(total, own, included=included, recovered=recovered)
            goods, tax = goods + extra[0], tax + extra[1]
        made.append(Line(line.order_id, item_of_line(line), whole_of(line), goods, tax, lost.get(line.pk, 0)))
    for order in orders:
        if order.pk in unbilled:
            # Delivery that was not billed yet is expected with what was not billed yet.
            delivery[order.pk] += max(_NONE, order.delivery - told[order.pk])
    return Bill(
        made, {order.pk: delivery[order.pk] for order in orders if any(one.order == order.pk for one in made)}, currency
    )


def _billed(
    orders: Sequence[PurchaseOrder], lines: dict[int, PurchaseOrderLine], currency: str
) -> tuple[dict[int, _Billed], dict[int, Decimal], dict[int, Decimal]]:
    """By line what invoices that stand bill of it; by order what they have beyond their lines, and of it delivery."""
    found: dict[int, _Billed] = defaultdict(_Billed)
    beyond: dict[int, Decimal] = defaultdict(Decimal)
    told: dict[int, Decimal] = defaultdict(Decimal)
    rows: dict[Invoice, list[InvoiceLine]] = defaultdict(list)
    for row in InvoiceLine.objects.filter(invoice__order__in=orders, invoice__reversed_at=None).select_related(
        "invoice"
    ):
        rows[row.invoice].append(row)
    for invoice, own in rows.items():
        work = tax_within if invoice.tax_included else line_tax
        expected = []
        for row in own:
            line = lines[row.order_line_id]
            percent = tax_percent_in(line, tax_included=line.order.tax_included)
            expected.append(work(abs(row.line_total), percent, currency))
        by = expected if any(expected) else [abs(row.line_total) for row in own]
        for row, tax in zip(own, share_out(invoice.tax, by, currency), strict=True):
            goods, added = net(row.line_total, tax, included=invoice.tax_included, recovered=invoice.tax_recovered)
            known = found[row.order_line_id]
            known.quantity, known.goods, known.tax = (
                known.quantity + row.quantity,
                known.goods + goods,
                known.tax + added,
            )
        added_up = invoice.goods + (_NONE if invoice.tax_included else invoice.tax)
        beyond[invoice.order_id] += invoice.total - added_up
        # Delivery that is credited is not waited for again.
        told[invoice.order_id] += max(_NONE, invoice.delivery)
    return found, beyond, told


def _remarks(
    items: Sequence[SplitItem], wanted: Sequence[dict[Item, int]], lines: Sequence[PurchaseOrderLine]
) -> Iterator[str]:
    """Where orders are not what members want, and what did not come whole."""
    for item in items:
        own = [line for line in lines if item_of_line(line) == item.key]
        want, ordered = _wanted(wanted, item.key), sum(line.quantity for line in own)
        if ordered < want:
            yield gettext("%(item)s: %(ordered)s ordered where members want %(want)s.") % {
                "item": item.words,
                "ordered": format_count(ordered),
                "want": format_count(want),
            }
        elif ordered > want and want:
            more = said_count(ordered - want, "piece")
            yield gettext("%(item)s: %(more)s more than members want, which are the cooperative's own.") % {
                "item": item.words,
                "more": more,
            }
        elif ordered and not want:
            yield gettext("%(item)s: ordered, and no member wants it. It is the cooperative's own.") % {
                "item": item.words
            }
        if damaged := sum(line.damaged for line in own):
            yield gettext("%(item)s: %(damaged)s came damaged.") % {
                "item": item.words,
                "damaged": said_count(damaged, "piece"),
            }
        if short := sum(
            line.quantity - line.good - min(line.damaged, line.quantity - line.good) for line in own if line.closed_at
        ):
            yield gettext("%(item)s: %(short)s will not come.") % {
                "item": item.words,
                "short": said_count(short, "piece"),
            }
        for line in own:
            if line.confirmed_quantity is not None and line.confirmed_quantity != line.quantity:
                yield (
                    gettext("%(item)s: %(supplier)s confirmed %(confirmed_quantity)s of the %(quantity)s ordered.")
                    % {
                        "item": item.words,
                        "supplier": line.order.supplier,
                        "confirmed_quantity": format_count(line.confirmed_quantity),
                        "quantity": format_count(line.quantity),
                    }
                )
