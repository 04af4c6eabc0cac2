"""An invoice is recorded, looked at or reversed. Each holds the order's row while it looks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.landing.adjusting import adjust_to_what_is_known
from farmbuild.buying.landing.bridge import bill_of, expected_tax, landed_lines
from farmbuild.buying.models import Invoice, InvoiceCheck, InvoiceLine, PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.sending import lock_order
from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.speaking import as_kept
from farmbuild.measure import by_sign, format_count, format_money, from_minor, line_total, round_money
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import check_currency
from farmbuild.orgs.models import Organisation, User


@dataclass(frozen=True)
class LineBilled:
    """``line`` is the key of the order's line. ``unit_price`` None: as confirmed or ordered."""

    line: int
    quantity: int
    unit_price: Decimal | None = None


@dataclass(frozen=True)
class Paper:
    """What stands on the invoice, in coins. ``total`` None: as it adds up; ``recovered`` None: as usual here."""

    number: str
    invoiced_on: date
    delivery: Decimal = Decimal(0)
    tax: Decimal = Decimal(0)
    total: Decimal | None = None
    tax_included: bool = False
    recovered: bool | None = None


@dataclass(frozen=True)
class Recorded:
    """``same``: this form had been sent before, and nothing was recorded again."""

    invoice: Invoice
    same: bool


class BilledProblems(ValidationError):
    """What is wrong line by line: key of the line, field of LineBilled, sentence."""

    def __init__(self, problems: Sequence[tuple[int, str, str]]) -> None:
        super().__init__([sentence for *_, sentence in problems])
        self.problems = problems


@needs(Act.PLAN)
@transaction.atomic
def record_invoice(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    paper: Paper,
    lines: Sequence[LineBilled],
    token: str,
) -> Recorded:
    """Keep what the supplier bills, and book the difference to what its goods had cost when they came.

    ``token`` is the form's own: the same token again gives the same invoice. Raises BilledProblems, and ValidationError
    by field, also where the supplier's invoice of that number is here already.
    """
    current = lock_order(organisation=organisation, order=order)
    if before := Invoice.objects.of(organisation).filter(token=token).first():
        return Recorded(before, same=True)
    check_currency(organisation=organisation)
    if current.sent_on is None:
        raise ValidationError(
            gettext("Order %(current_number)s has not been sent. Nothing can be billed for it.")
            % {"current_number": current.number}
        )
    number = " ".join(paper.number.split())
    check_number(current, number)
    check_paper(paper, current.currency)
    rows = _billed_rows(current, lines)
    if not rows and not paper.delivery:
        raise ValidationError(
            gettext("Type how many pieces were billed of at least one line, or delivery that is billed alone.")
        )
    invoice = _record(current, user, paper, number, rows, token)
    adjust_to_what_is_known(
        order=current, user=user, invoice=invoice, reason=f"Invoice {number} of order {current.number}"
    )
    return Recorded(invoice, same=False)


def check_number(order: PurchaseOrder, number: str, *, credit: bool = False) -> None:
    if not number:
        raise ValidationError(
            {
                "number": gettext("Type the number of the credit note.")
                if credit
                else gettext("Type the number of the invoice.")
            }
        )
    same = Invoice.objects.filter(supplier=order.supplier_id, reversed_at=None, number__iexact=number)
    if there := same.filter(credits__isnull=not credit).select_related("order").first():
        words = gettext(
            "%(named)s of %(supplier)s is recorded already, on order %(number)s. Look whether it is the same paper."
        ) % {"named": there.named, "supplier": order.supplier.name, "number": there.order.number}
        raise ValidationError({"number": words})


def check_paper(paper: Paper, currency: str) -> None:
    problems = {}
    for name in ("delivery", "tax", "total"):
        amount = getattr(paper, name)
        if amount is None:
            continue
        if not 0 <= amount < 10**9:
            problems[name] = by_sign(gettext("Type an amount of zero or more, for example 12.50."))
        elif round_money(amount, currency) != amount:
            problems[name] = gettext("The smallest amount in %(currency)s is %(from_minor)s.") % {
                "currency": currency,
                "from_minor": format_money(from_minor(1, currency), currency),
            }
    if problems:
        raise ValidationError(problems)


def _billed_rows(order: PurchaseOrder, lines: Sequence[LineBilled]) -> list[tuple[PurchaseOrderLine, int, Decimal]]:
    there = {row.pk: row for row in order.lines.all()}
    if any(line.line not in there for line in lines):
        raise ValidationError(gettext("A line of the invoice is not on this order. Open the page again."))
    if len({line.line for line in lines}) < len(lines):
        raise ValidationError(gettext("A line stands on the invoice twice. Add its pieces up."))
    lines = [line for line in lines if line.quantity]
    if problems := [problem for line in lines for problem in _problems(line)]:
        raise BilledProblems(problems)
    found = []
    for line in sorted(lines, key=lambda line: there[line.line].position):
        row = there[line.line]
        # Loaded by the order at hand; looking it up again would cost a query a line.
        row.order = order
        found.append((row, line.quantity, row.price_now if line.unit_price is None else line.unit_price))
    return found


def _problems(line: LineBilled) -> Iterator[tuple[int, str, str]]:
    if not 1 <= line.quantity <= MAX_QUANTITY:
        yield (
            line.line,
            "quantity",
            gettext("Type a whole number from 0 to %(most)s.") % {"most": format_count(MAX_QUANTITY)},
        )
    if line.unit_price is not None and not 0 <= line.unit_price < 10**9:
        yield line.line, "unit_price", by_sign(gettext("Type a price of zero or more, for example 12.50."))


def _record(
    order: PurchaseOrder,
    user: User | None,
    paper: Paper,
    number: str,
    rows: Sequence[tuple[PurchaseOrderLine, int, Decimal]],
    token: str,
) -> Invoice:
    recovered = order.organisation.recovers_tax if paper.recovered is None else paper.recovered
    # Delivery that is billed alone is borne by all that was ordered, by its value.
    billed = rows or [(line, 0, line.price_now) for line in order.lines.all()]
    values = () if rows else [line_total(line.quantity, price, order.currency) for line, _, price in billed]
    bill = bill_of(
        lines=billed,
        currency=order.currency,
        delivery=paper.delivery,
        tax=paper.tax,
        total=paper.total,
        tax_included=paper.tax_included,
        tax_recovered=recovered,
    )
    if bill.tax > bill.total:
        raise ValidationError({"tax": gettext("The tax is more than the total. Look at both on the paper.")})
    usual = expected_tax(bill, order.currency)
    invoice = store(
        order,
        user,
        Invoice(
            number=number,
            invoiced_on=paper.invoiced_on,
            goods=sum((line.total for line in bill.lines), Decimal(0)),
            delivery=paper.delivery,
            tax=paper.tax,
            total=bill.total,
            tax_included=paper.tax_included,
            tax_recovered=recovered,
            tax_expected=usual,
            total_off=bill.total != bill.added_up,
            token=token,
        ),
        pieces=len(rows),
    )
    landed = landed_lines(bill, order.currency, values)
    InvoiceLine.objects.bulk_create(
        InvoiceLine(
            invoice=invoice,
            order_line=line,
            quantity=quantity,
            unit_price=price,
            line_total=one.total,
            landed=cost,
        )
        for (line, quantity, price), one, cost in zip(billed, bill.lines, landed, strict=True)
        if rows or cost
    )
    return invoice


def store(order: PurchaseOrder, user: User | None, invoice: Invoice, *, pieces: int) -> Invoice:
    """What stands on the paper, on the order that is held; ``pieces``: lines that have any."""
    invoice.organisation, invoice.order, invoice.supplier = order.organisation, order, order.supplier
    invoice.position = (order.invoices.aggregate(last=Max("position"))["last"] or 0) + 1
    invoice.currency, invoice.by = order.currency, user
    # Rounded once for the whole paper instead of line by line it may be a coin a line off; on delivery alone nobody
    # knows the percent.
    off = abs(invoice.tax - invoice.tax_expected)
    invoice.tax_off = bool(pieces) and off > from_minor(pieces, order.currency)
    invoice.clean_fields(exclude=["organisation", "order", "supplier", "by", "reversed_by", "credits"])
    try:
        with transaction.atomic():
            invoice.save()
    except IntegrityError:
        # Another order of the supplier may have taken the number meanwhile.
        check_number(order, invoice.number, credit=invoice.credits_id is not None)
        raise
    return invoice


@needs(Act.PLAN)
@transaction.atomic
def reverse_invoice(*, organisation: Organisation, user: User | None, invoice: Invoice, reason: str) -> Invoice:
    """A wrong invoice counts no more; it stays to be read, and its number is free again. Raises ValidationError."""
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: typed from the wrong paper.")})
    order = lock_order(organisation=organisation, order=invoice.order)
    current = Invoice.objects.of(organisation).get(pk=invoice.pk)
    if current.reversed_at:
        raise ValidationError(gettext("%(named)s has been reversed already.") % {"named": current.named})
    # What is credited later was worked out from what was left then.
    later = Invoice.objects.filter(credits=current.credits_id or current.pk, reversed_at=None, pk__gt=current.pk)
    if there := later.order_by("pk").last():
        raise ValidationError(
            gettext("%(named)s came later and takes part of it back. Reverse that first.") % {"named": there.named}
        )
    current.reversed_at, current.reversed_by, current.reverse_reason = timezone.now(), user, reason
    current.clean_fields(exclude=["organisation", "order", "supplier", "by", "reversed_by", "credits"])
    current.save(update_fields=["reversed_at", "reversed_by", "reverse_reason"])
    with as_kept():
        why = f"{current.named} reversed: {reason}"
    adjust_to_what_is_known(order=order, user=user, invoice=current, reason=why)
    return current


@needs(Act.PLAN)
@transaction.atomic
def check_invoice(*, organisation: Organisation, user: User | None, invoice: Invoice, words: str) -> InvoiceCheck:
    """Somebody looked at how it differs; it leaves the list of those to look at. Raises ValidationError."""
    words = " ".join(words.split())
    if not words:
        raise ValidationError({"words": gettext("Say what came of it, for example: credit note promised.")})
    lock_order(organisation=organisation, order=invoice.order)
    if there := InvoiceCheck.objects.filter(invoice=invoice).select_related("by").first():
        who = there.by.display_name if there.by else "someone"
        raise ValidationError(
            gettext("%(who)s said already what came of it: %(words)s") % {"who": who, "words": there.words}
        )
    check = InvoiceCheck(invoice=invoice, by=user, words=words)
    check.clean_fields(exclude=["invoice", "by"])
    check.save()
    return check
