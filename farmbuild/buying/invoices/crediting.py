"""A credit note of the supplier: part of one invoice is taken back, and its goods cost so much less."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.buying.invoices.services import BilledProblems, Paper, Recorded, check_number, check_paper, store
from farmbuild.buying.landing.adjusting import adjust_to_what_is_known
from farmbuild.buying.landing.bridge import Bill, BilledLine, expected_tax, landed_lines, tax_percent_in
from farmbuild.buying.models import Invoice, InvoiceLine, PurchaseOrderLine
from farmbuild.buying.sending import lock_order
from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.speaking import said_count
from farmbuild.measure import format_count, format_money, line_total, round_money
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import check_currency
from farmbuild.orgs.models import Organisation, User

_NONE = Decimal(0)


@dataclass(frozen=True)
class LineCredited:
    """``line`` is the key of the order's line. No pieces: less money for those that stay. ``amount`` in coins, None: of
    the pieces as they were billed."""

    line: int
    quantity: int = 0
    amount: Decimal | None = None


@dataclass(frozen=True)
class Left:
    """What an invoice bills of a line of its order, less what was credited of it."""

    line: PurchaseOrderLine
    price: Decimal
    billed: Decimal
    quantity: int
    total: Decimal
    landed: Decimal


def left_of(invoice: Invoice) -> list[Left]:
    """By line of the order; one query."""
    rows = InvoiceLine.objects.filter(invoice__reversed_at=None).select_related("order_line__material")
    rows = rows.filter(invoice=invoice) | rows.filter(invoice__credits=invoice)
    found: dict[int, Left] = {}
    # The invoice was there before what takes part of it back.
    for row in rows.order_by("invoice_id", "order_line__position"):
        before = found.get(row.order_line_id)
        if before is None:
            line = row.order_line
            found[line.pk] = Left(line, row.unit_price, row.line_total, row.quantity, row.line_total, row.landed)
        else:
            found[row.order_line_id] = replace(
                before,
                quantity=before.quantity + row.quantity,
                total=before.total + row.line_total,
                landed=before.landed + row.landed,
            )
    return list(found.values())


def sums_left_of(invoice: Invoice) -> dict[str, Decimal]:
    """Delivery, tax and total of an invoice less what was credited; one query."""
    names = ("delivery", "tax", "total")
    rows = [*invoice.credit_notes.filter(reversed_at=None).values_list(*names)]
    return {name: getattr(invoice, name) + sum((row[at] for row in rows), _NONE) for at, name in enumerate(names)}


@needs(Act.PLAN)
@transaction.atomic
def record_credit(
    *,
    organisation: Organisation,
    user: User | None,
    invoice: Invoice,
    paper: Paper,
    lines: Sequence[LineCredited],
    token: str,
) -> Recorded:
    """Keep what the supplier credits, and book what its goods cost less. Tax counts as it does on the invoice.

    ``token`` as ``record_invoice`` has it. Raises BilledProblems, and ValidationError by field.
    """
    order = lock_order(organisation=organisation, order=invoice.order)
    if before := Invoice.objects.of(organisation).filter(token=token).first():
        return Recorded(before, same=True)
    check_currency(organisation=organisation)
    current = Invoice.objects.of(organisation).get(pk=invoice.pk)
    if current.reversed_at or current.credits_id:
        raise ValidationError(gettext("%(named)s bills nothing that could be credited.") % {"named": current.named})
    number = " ".join(paper.number.split())
    check_number(order, number, credit=True)
    check_paper(paper, order.currency)
    left = left_of(current)
    credited = _credited(left, lines, order.currency)
    goods = sum((amount for _, amount in credited.values()), _NONE)
    tax = _NONE if current.tax_included else paper.tax
    total = goods + paper.delivery + tax if paper.total is None else paper.total
    sums = {"delivery": paper.delivery, "tax": paper.tax, "total": total}
    if not any([*sums.values(), *(pieces for pieces, _ in credited.values())]):
        raise ValidationError(gettext("Type what is credited: pieces, an amount, delivery or tax."))
    _check_sums(sums, sums_left_of(current), current)
    added_up = goods + paper.delivery + tax
    usual = _usual_tax(current, left, credited)
    note = store(
        order,
        user,
        Invoice(
            number=number,
            invoiced_on=paper.invoiced_on,
            credits=current,
            goods=-goods,
            **{name: -amount for name, amount in sums.items()},
            tax_included=current.tax_included,
            tax_recovered=current.tax_recovered,
            tax_expected=-usual,
            total_off=total != added_up,
            token=token,
        ),
        pieces=len(credited),
    )
    landed = _landed_after(current, left, credited)
    InvoiceLine.objects.bulk_create(
        InvoiceLine(
            invoice=note,
            order_line=one.line,
            quantity=-pieces,
            unit_price=one.price,
            line_total=-amount,
            landed=cost - one.landed,
        )
        for one, cost in zip(left, landed, strict=True)
        for pieces, amount in [credited.get(one.line.pk, (0, _NONE))]
        if pieces or amount or cost != one.landed
    )
    reason = f"Credit note {number} of invoice {current.number}, order {order.number}"
    adjust_to_what_is_known(order=order, user=user, invoice=note, reason=reason)
    return Recorded(note, same=False)


def _credited(left: Sequence[Left], lines: Sequence[LineCredited], currency: str) -> dict[int, tuple[int, Decimal]]:
    """By line of the order the pieces and coins that are credited."""
    there = {one.line.pk: one for one in left}
    if any(line.line not in there for line in lines):
        raise ValidationError(gettext("A line of the credit note is not on this invoice. Open the page again."))
    if len({line.line for line in lines}) < len(lines):
        raise ValidationError(gettext("A line stands on the credit note twice. Add its pieces up."))
    found: dict[int, tuple[int, Decimal]] = {}
    problems: list[tuple[int, str, str]] = []
    for line in lines:
        if line.quantity or line.amount:
            one = there[line.line]
            problems += _problems(line, one, currency)
            found[line.line] = line.quantity, _amount(line, one, currency)
    if problems:
        raise BilledProblems(problems)
    return found


def _amount(line: LineCredited, one: Left, currency: str) -> Decimal:
    if line.amount is not None:
        return line.amount
    # All that is left of them comes to all that is left, whatever was credited before.
    return one.total if line.quantity == one.quantity else line_total(line.quantity, one.price, currency)


def _problems(line: LineCredited, one: Left, currency: str) -> Iterator[tuple[int, str, str]]:
    if not 0 <= line.quantity <= min(one.quantity, MAX_QUANTITY):
        left = said_count(one.quantity, "piece")
        yield (
            line.line,
            "quantity",
            gettext("%(left)s of this line can be credited. Type a number up to %(quantity)s.")
            % {"left": left, "quantity": format_count(one.quantity)},
        )
        return
    amount = _amount(line, one, currency)
    if amount < 0 or round_money(amount, currency) != amount:
        yield (
            line.line,
            "amount",
            gettext("Type an amount of zero or more in whole coins of %(currency)s.") % {"currency": currency},
        )
    elif amount > one.total:
        yield (
            line.line,
            "amount",
            gettext("%(total)s is left of this line to be credited.") % {"total": format_money(one.total, currency)},
        )


def _check_sums(sums: Mapping[str, Decimal], left: Mapping[str, Decimal], invoice: Invoice) -> None:
    problems = {
        name: gettext("%(left)s is left of %(named)s to be credited here.")
        % {"left": format_money(left[name], invoice.currency), "named": invoice.named}
        for name, amount in sums.items()
        if amount > left[name]
    }
    if not problems and sums["tax"] > sums["total"]:
        problems["tax"] = gettext("The tax is more than the total. Look at both on the paper.")
    if not problems and invoice.tax_recovered and left["total"] - sums["total"] < left["tax"] - sums["tax"]:
        problems["total"] = gettext("More tax would be left of the invoice than is left to pay. Look at total and tax.")
    if problems:
        raise ValidationError(problems)


def _lines(
    invoice: Invoice, rows: Iterable[tuple[Left, int, Decimal]], *, delivery: Decimal, tax: Decimal, total: Decimal
) -> Bill:
    lines = [
        BilledLine(one.line.pk, pieces, amount, tax_percent_in(one.line, tax_included=invoice.order.tax_included))
        for one, pieces, amount in rows
    ]
    return Bill(lines, delivery, tax, total, invoice.tax_included, invoice.tax_recovered)


def _usual_tax(invoice: Invoice, left: Sequence[Left], credited: Mapping[int, tuple[int, Decimal]]) -> Decimal:
    rows = [(one, *credited[one.line.pk]) for one in left if one.line.pk in credited]
    return expected_tax(_lines(invoice, rows, delivery=_NONE, tax=_NONE, total=_NONE), invoice.currency)


def _landed_after(invoice: Invoice, left: Sequence[Left], credited: Mapping[int, tuple[int, Decimal]]) -> list[Decimal]:
    """What each line costs by what the invoice has left after the note, which is stored, as if it had billed that."""
    none = (0, _NONE)
    rows = [
        (one, one.quantity - credited.get(one.line.pk, none)[0], one.total - credited.get(one.line.pk, none)[1])
        for one in left
    ]
    bill = _lines(invoice, rows, **sums_left_of(invoice))
    values = [one.billed or line_total(one.line.quantity, one.line.price_now, invoice.currency) for one in left]
    return landed_lines(bill, invoice.currency, values)
