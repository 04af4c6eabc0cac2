"""Goods come in, or a wrong receipt is reversed. Every line of a receipt is stored, or none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext

from farmbuild.buying.landing.adjusting import adjust_to_what_is_known, undo_adjustments
from farmbuild.buying.landing.bridge import Landed, landed_costs
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Receipt, ReceiptLine
from farmbuild.buying.reserving.services import attach_to_lines, detach_from_lots, move_reservations_to_lots
from farmbuild.buying.sending import State, lock_order, update_state
from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.speaking import said_count
from farmbuild.measure import by_sign, format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.stock.services import NewLot, places_named, receive_lots, reverse_received_lots


@dataclass(frozen=True)
class Arrival:
    """What came of one line. ``unit_price`` None: as confirmed or ordered. ``place`` "": where the rest lies."""

    line: int
    arrived: int
    damaged: int = 0
    damage_reason: str = ""
    unit_price: Decimal | None = None
    place: str = ""


@dataclass(frozen=True)
class Received:
    """``same``: this form had been sent before, and nothing was received again."""

    receipt: Receipt
    same: bool


@dataclass(frozen=True)
class LineProblem:
    """``line`` is its key, ``field`` one of Arrival."""

    line: int
    field: str
    sentence: str


class LineProblems(ValidationError):
    """What is wrong line by line, in ``problems``."""

    def __init__(self, problems: list[LineProblem]) -> None:
        super().__init__([problem.sentence for problem in problems])
        self.problems = problems


@needs(Act.STOCK)
@transaction.atomic
def receive_goods(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    arrivals: Sequence[Arrival],
    received_on: date,
    token: str,
    place: str = "",
    paper: str = "",
    seen: int | None = None,
    damage_credited: bool = True,
) -> Received:
    """Put what came into stock at its landed cost; the queries grow by batches of lines only.

    ``damage_credited``: the supplier replaces damaged pieces or takes them off the bill; else they are an expense.

    ``token`` is the form's own: the same token again gives the same receipt. ``seen`` is the number of the last
    receipt that the receiver could see; when there is a newer one it is refused, so that two people do not take in
    one delivery. A new place is made at the site to which the line goes. Raises LineProblems and ValidationError.
    """
    current = lock_order(organisation=organisation, order=order)
    if before := Receipt.objects.of(organisation).filter(token=token).first():
        return Received(before, same=True)
    _check_open(current)
    last = _last_number(current)
    if seen is not None and seen != last:
        raise ValidationError(_meanwhile(current, last))
    arrivals = [arrival for arrival in arrivals if arrival.arrived]
    if not arrivals:
        raise ValidationError(gettext("Type how many pieces came of at least one line."))
    lines = {row.pk: row for row in current.lines.select_related("material", "delivery_site")}
    if any(arrival.line not in lines for arrival in arrivals):
        raise ValidationError(gettext("A line of the receipt is not on this order. Open the page again."))
    if problems := [problem for arrival in arrivals for problem in _problems(arrival, lines[arrival.line])]:
        raise LineProblems(problems)
    if unsaid := [problem for arrival in arrivals for problem in _unsaid(arrival, lines[arrival.line])]:
        raise LineProblems(unsaid)
    if len({arrival.line for arrival in arrivals}) < len(arrivals):
        raise ValidationError(gettext("A line stands on the receipt twice. Add its pieces up."))
    receipt = Receipt(
        organisation=organisation,
        order=current,
        number=last + 1,
        received_on=received_on,
        paper=" ".join(paper.split()),
        damage_credited=damage_credited,
        token=token,
        by=user,
    )
    receipt.clean_fields(exclude=["organisation", "order", "reverses", "by"])
    costs = _costs(current, list(lines.values()), arrivals, damage_credited)
    receipt.save()
    spots = _places(current, arrivals, lines, place)
    whole = [arrival for arrival in arrivals if arrival.arrived > arrival.damaged]
    lots = receive_lots(
        organisation=organisation,
        user=user,
        lots=[
            _new_lot(arrival, lines[arrival.line], receipt, spots[_key(arrival, place)], costs[arrival.line])
            for arrival in whole
        ],
    )
    lot_of = {arrival.line: lot for arrival, lot in zip(whole, lots, strict=True)}
    # Before the lines count what came: no more of a line is held than is still to come.
    move_reservations_to_lots(arrived=lot_of)
    ReceiptLine.objects.bulk_create(
        ReceiptLine(
            receipt=receipt,
            order_line=lines[arrival.line],
            arrived=arrival.arrived,
            damaged=arrival.damaged,
            damage_reason=arrival.damage_reason.strip() if arrival.damaged else "",
            unit_price=_price(arrival, lines[arrival.line]),
            amount=costs[arrival.line].stock,
            expense=costs[arrival.line].expense,
            lot=lot_of.get(arrival.line),
            place=lot_of[arrival.line].place if arrival.line in lot_of else None,
        )
        for arrival in arrivals
    )
    update_state(current)
    return Received(receipt, same=False)


def _check_open(order: PurchaseOrder) -> None:
    if order.state == State.DRAFT:
        raise ValidationError(
            gettext("Order %(order_number)s has not been sent. Mark it as sent, then receive.")
            % {"order_number": order.number}
        )
    if not order.is_open:
        raise ValidationError(
            gettext(
                "Order %(order_number)s is %(lower)s; nothing of it is on order. Look at its receipts. "
                "Enter anything extra with Receive a lot."
            )
            % {"order_number": order.number, "lower": order.get_state_display().lower()}
        )


def _last_number(order: PurchaseOrder) -> int:
    return order.receipts.aggregate(last=Max("number"))["last"] or 0


def _meanwhile(order: PurchaseOrder, last: int) -> str:
    newest = order.receipts.select_related("by").get(number=last)
    who = newest.by.display_name if newest.by else "someone"
    paper = gettext(" with delivery note %(paper)s") % {"paper": newest.paper} if newest.paper else ""
    return gettext(
        "While this page was open %(who)s wrote receipt %(number)s on this order%(paper)s. Look whether it is "
        "the same delivery. If yours came on top of it, send this again."
    ) % {"who": who, "number": newest.number, "paper": paper}


def _problems(arrival: Arrival, line: PurchaseOrderLine) -> Iterator[LineProblem]:
    if not 1 <= arrival.arrived <= MAX_QUANTITY or line.arrived + arrival.arrived > MAX_QUANTITY:
        yield LineProblem(
            arrival.line,
            "arrived",
            gettext("Type a whole number from 0 to %(most)s.") % {"most": format_count(MAX_QUANTITY)},
        )
    elif not 0 <= arrival.damaged <= arrival.arrived:
        yield LineProblem(
            arrival.line,
            "damaged",
            gettext("%(damaged)s damaged of %(arrived)s cannot be. Type a whole number from 0 to %(arrived2)s.")
            % {
                "damaged": format_count(arrival.damaged),
                "arrived": said_count(arrival.arrived, "piece"),
                "arrived2": format_count(arrival.arrived),
            },
        )
    elif arrival.damaged and not arrival.damage_reason.strip():
        yield LineProblem(arrival.line, "damage_reason", gettext("Say what is damaged, for example: ends crushed."))
    if arrival.unit_price is not None and not 0 <= arrival.unit_price < 10**9:
        yield LineProblem(
            arrival.line, "unit_price", by_sign(gettext("Type a price of zero or more, for example 12.50."))
        )


def _price(arrival: Arrival, line: PurchaseOrderLine) -> Decimal:
    return line.price_now if arrival.unit_price is None else arrival.unit_price


def _costs(
    order: PurchaseOrder, lines: Sequence[PurchaseOrderLine], arrivals: Sequence[Arrival], credited: bool
) -> dict[int, Landed]:
    """By line what is about to come costs, in stock and as an expense."""
    by_key = {line.pk: line for line in lines}
    coming = [
        (
            by_key[arrival.line],
            arrival.arrived - arrival.damaged,
            0 if credited else arrival.damaged,
            _price(arrival, by_key[arrival.line]),
        )
        for arrival in arrivals
    ]
    _, found = landed_costs(order=order, lines=lines, recovered=order.organisation.recovers_tax, coming=coming)
    return {arrival.line: cost for arrival, cost in zip(arrivals, found, strict=True)}


def _key(arrival: Arrival, place: str) -> str:
    return " ".join((arrival.place or place).split()).casefold()


def _unsaid(arrival: Arrival, line: PurchaseOrderLine) -> Iterator[LineProblem]:
    """The place typed for the delivery is one of the order's site, so a line that goes elsewhere needs its own."""
    if line.delivery_site and arrival.arrived > arrival.damaged and not arrival.place.strip():
        yield LineProblem(
            arrival.line,
            "place",
            gettext("This line goes to %(delivery_site)s. Type where it lies there, for example Rack.")
            % {"delivery_site": line.delivery_site},
        )


def _places(
    order: PurchaseOrder, arrivals: Sequence[Arrival], lines: Mapping[int, PurchaseOrderLine], place: str
) -> dict[str, object]:
    """Places by name in small letters; a new one is made where its line goes."""
    by_site: dict[Site, list[str]] = {}
    for arrival in arrivals:
        if arrival.arrived > arrival.damaged:
            if not _key(arrival, place):
                raise ValidationError({"place": gettext("Type where it lies, for example Barn rack.")})
            site = lines[arrival.line].delivery_site or order.delivery_site
            by_site.setdefault(site, []).append(arrival.place or place)
    found: dict[str, object] = {}
    for site, names in by_site.items():
        found |= places_named(organisation=order.organisation, names=names, site=site)
    return found


def _new_lot(arrival: Arrival, line: PurchaseOrderLine, receipt: Receipt, place: object, cost: Landed) -> NewLot:
    order = receipt.order
    return NewLot(
        material=line.material,
        quantity=arrival.arrived - arrival.damaged,
        place=place,
        received_on=receipt.received_on,
        length=line.length,
        amount=cost.stock,
        supplier=order.supplier,
        reason=f"Order {order.number}, line {line.position}, receipt {receipt.number}",
        paper=receipt.paper or order.number,
    )


@needs(Act.STOCK)
@transaction.atomic
def reverse_receipt(*, organisation: Organisation, user: User | None, receipt: Receipt, reason: str) -> Receipt:
    """Take a wrong receipt back out by another one; its lots must still have all the pieces.

    What was closed short on its lines is waited for again, and who held pieces of it holds them of the order. Raises
    ValidationError.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: counted the wrong pile.")})
    current = lock_order(organisation=organisation, order=receipt.order)
    wrong = Receipt.objects.of(organisation).get(pk=receipt.pk)
    if wrong.reverses_id is not None:
        raise ValidationError(gettext("This is a reversal itself. Receive the goods again instead."))
    if Receipt.objects.filter(reverses=wrong).exists():
        raise ValidationError(
            gettext("Receipt %(wrong_number)s has been reversed already.") % {"wrong_number": wrong.number}
        )
    lines = list(wrong.lines.all())
    back = Receipt(
        organisation=organisation,
        order=current,
        number=_last_number(current) + 1,
        received_on=wrong.received_on,
        paper=wrong.paper,
        token=str(uuid4()),
        by=user,
        damage_credited=wrong.damage_credited,
        reverses=wrong,
        reason=reason,
    )
    back.clean_fields(exclude=["organisation", "order", "reverses", "by"])
    back.save()
    held = detach_from_lots(lots={line.lot_id: line.order_line_id for line in lines if line.lot_id})
    reverse_received_lots(
        organisation=organisation,
        user=user,
        quantities={line.lot_id: line.good for line in lines if line.lot_id},
        reason=f"Order {current.number}, receipt {wrong.number} reversed: {reason}"[:200],
    )
    # Before the lines count what came: lots are held before order lines, here as everywhere.
    why = f"Receipt {wrong.number} of order {current.number} reversed"
    undo_adjustments(receipt=wrong, user=user, reason=why)
    adjust_to_what_is_known(order=current, user=user, reason=why)
    ReceiptLine.objects.bulk_create(
        ReceiptLine(
            receipt=back,
            order_line_id=line.order_line_id,
            arrived=-line.arrived,
            damaged=-line.damaged,
            damage_reason=line.damage_reason,
            unit_price=line.unit_price,
            amount=None if line.amount is None else -line.amount,
            expense=None if line.expense is None else -line.expense,
            place_id=line.place_id,
            lot_id=line.lot_id,
        )
        for line in lines
    )
    PurchaseOrderLine.objects.filter(receipt_lines__receipt=wrong).exclude(closed_at=None).update(
        closed_at=None, closed_by=None, closed_reason=""
    )
    attach_to_lines(held)
    update_state(current)
    return back
