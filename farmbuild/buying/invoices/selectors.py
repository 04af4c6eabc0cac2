"""Reads of invoices: what was billed of what came, and which of them somebody should look at."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from decimal import Decimal

from django.db.models import DecimalField, Exists, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from farmbuild.buying.models import (
    AdjustmentShare,
    CostAdjustment,
    Invoice,
    InvoiceLine,
    PurchaseOrder,
    PurchaseOrderLine,
    ReceiptLine,
)
from farmbuild.orgs.models import Organisation
from farmbuild.stock.cost_selectors import borne_by
from farmbuild.stock.repricing import Bearer


def charged_lines(*, order: PurchaseOrder) -> QuerySet[PurchaseOrderLine]:
    """Lines with ``billed`` pieces, and ``charged`` ones: that came and nobody credits. One query."""
    return order.lines.select_related("material", "delivery_site").annotate(billed=_billed(), charged=_charged())


def _billed() -> Coalesce:
    rows = InvoiceLine.objects.filter(order_line=OuterRef("pk"), invoice__reversed_at=None).order_by()
    return Coalesce(Subquery(rows.values("order_line").annotate(sum=Sum("quantity")).values("sum")), 0)


def _charged() -> Coalesce:
    rows = ReceiptLine.objects.filter(order_line=OuterRef("pk"), receipt__damage_credited=True).order_by()
    credited = Subquery(
        rows.values("order_line").annotate(sum=Sum("damaged")).values("sum"), output_field=IntegerField()
    )
    return F("arrived") - Coalesce(credited, 0)


def invoices_of(*, organisation: Organisation) -> QuerySet[Invoice]:
    """The last first, with order and supplier, and whether prices or pieces differ: ``price_off``, ``more_billed``.

    Of credit notes neither is asked; what they leave too many of stands on the invoice.
    """
    lines = InvoiceLine.objects.filter(invoice=OuterRef("pk"), invoice__credits=None)
    agreed = Coalesce("order_line__confirmed_price", "order_line__unit_price")
    more = PurchaseOrderLine.objects.annotate(billed=_billed(), charged=_charged()).filter(
        invoice_lines__invoice=OuterRef("pk"), invoice_lines__invoice__credits=None, billed__gt=F("charged")
    )
    return (
        Invoice.objects.of(organisation)
        .select_related("order", "supplier", "credits", "by", "reversed_by", "check_made__by")
        .annotate(price_off=Exists(lines.exclude(unit_price=agreed)), more_billed=Exists(more))
        .order_by("-invoiced_on", "-pk")
    )


def to_look_at(*, organisation: Organisation) -> QuerySet[Invoice]:
    """Those that stand and differ from order or receipts, and of which nobody has said yet what came of it."""
    rows = invoices_of(organisation=organisation).filter(reversed_at=None, check_made=None)
    return rows.filter(Q(total_off=True) | Q(tax_off=True) | Q(price_off=True) | Q(more_billed=True))


def in_period(rows: QuerySet[Invoice], *, since: date | None, until: date | None) -> QuerySet[Invoice]:
    """By the date of the invoice, both days included."""
    rows = rows.filter(invoiced_on__gte=since) if since else rows
    return rows.filter(invoiced_on__lte=until) if until else rows


def invoice_lines_of(*, invoice: Invoice) -> QuerySet[InvoiceLine]:
    """With ``credited``: coins that credit notes take back of each."""
    rows = invoice.lines.select_related("order_line").annotate(credited=_credited())
    return rows.order_by("order_line__position")


def _credited() -> Coalesce:
    notes = InvoiceLine.objects.filter(
        invoice__credits=OuterRef("invoice"), invoice__reversed_at=None, order_line=OuterRef("order_line")
    )
    sums = notes.order_by().values("order_line").annotate(sum=-Sum("line_total")).values("sum")
    return Coalesce(Subquery(sums), Decimal(0), output_field=DecimalField(max_digits=16, decimal_places=3))


def credits_of(*, invoice: Invoice) -> QuerySet[Invoice]:
    """Credit notes of an invoice that stand."""
    return invoice.credit_notes.filter(reversed_at=None).select_related("order").order_by("position")


def standing_lines(*, order: PurchaseOrder) -> QuerySet[InvoiceLine]:
    """Of all invoices of the order that nobody reversed, ``credited`` as ``invoice_lines_of`` has it."""
    rows = InvoiceLine.objects.filter(invoice__order=order, invoice__reversed_at=None, invoice__credits=None)
    return rows.select_related("order_line").annotate(credited=_credited()).order_by("order_line__position", "pk")


def adjustments_of_invoice(*, invoice: Invoice) -> QuerySet[CostAdjustment]:
    """What it changed of goods that had come, and its reversal."""
    return invoice.adjustments.select_related(
        "receipt_line__order_line", "receipt_line__lot", "receipt_line__receipt", "by"
    ).order_by("pk")


def received_cost_of(*, order: PurchaseOrder) -> tuple[Decimal, Decimal]:
    """What the goods of an order that came cost by now, in stock and as a general expense; two queries."""
    return _sums(
        ReceiptLine.objects.filter(receipt__order=order),
        CostAdjustment.objects.filter(receipt_line__receipt__order=order),
    )


def expense_of(*, organisation: Organisation) -> Decimal:
    """What damaged pieces that nobody credited cost, of all orders."""
    return _sums(
        ReceiptLine.objects.filter(receipt__organisation=organisation),
        CostAdjustment.objects.filter(receipt_line__receipt__organisation=organisation),
    )[1]


def adjusted_of(
    *, organisation: Organisation, houses: Collection[int] | None = None, job: int | None = None
) -> dict[Bearer, Decimal]:
    """By house and job what invoices changed of the cost of pieces that it had by then.

    ``houses``, ``job``: keys of those alone; one query. What members bear is not in it.
    """
    rows = AdjustmentShare.objects.filter(adjustment__receipt_line__receipt__organisation=organisation, members=False)
    rows = rows if houses is None else rows.filter(borne_by(houses, job))
    sums = rows.order_by("house", "job").values_list("house", "job").annotate(sum=Sum("amount"))
    return {(house, job): amount for house, job, amount in sums}


def adjusted_of_members(*, organisation: Organisation) -> Decimal:
    """What invoices changed of the cost of pieces that members had been handed out by then; one query."""
    rows = AdjustmentShare.objects.filter(adjustment__receipt_line__receipt__organisation=organisation, members=True)
    total: Decimal = rows.aggregate(sum=Sum("amount", default=Decimal(0)))["sum"]
    return total


def _sums(lines: QuerySet[ReceiptLine], adjustments: QuerySet[CostAdjustment]) -> tuple[Decimal, Decimal]:
    # Added up here: SQLite sums them as binary fractions.
    rows = [*lines.order_by().values_list("amount", "expense")]
    rows += adjustments.order_by().values_list("amount", "expense")
    stock, expense = (
        ([value or Decimal(0) for value in column] for column in zip(*rows, strict=True)) if rows else ((), ())
    )
    return sum(stock, Decimal(0)), sum(expense, Decimal(0))
