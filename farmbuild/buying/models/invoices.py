"""What a supplier bills for an order or credits of it, and what that changes of the cost of goods that came before it.

An invoice is never edited; a wrong one is reversed with a reason (migration invoice_guards).
"""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.models.orders import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.models.receipts import ReceiptLine
from farmbuild.catalogue.models import Supplier
from farmbuild.common.fields import ThousandthsField
from farmbuild.orgs.models import OrgOwned


def _money(label: str) -> models.DecimalField:
    return models.DecimalField(label, max_digits=16, decimal_places=3)


def _who() -> models.ForeignKey:
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )


class Invoice(OrgOwned):
    """As it stands on the paper. ``goods`` is the sum of its lines, and ``total`` what is to be paid.

    A credit note ``credits`` an invoice of the order: its pieces and amounts are below 0, so that both add up.
    ``token`` comes from the form: a form that is sent twice is one invoice. What is ``…_off`` was so when it came.
    """

    order = models.ForeignKey(PurchaseOrder, models.PROTECT, related_name="invoices")
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="+")
    credits = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, editable=False, related_name="credit_notes"
    )
    #: A counter of the order, for addresses.
    position = models.PositiveIntegerField(editable=False)
    number = models.CharField(gettext_lazy("invoice number"), max_length=60)
    invoiced_on = models.DateField(gettext_lazy("date of the invoice"))
    currency = models.CharField(max_length=3)
    goods = _money("goods")
    delivery = _money("delivery")
    tax = _money("tax")
    total = _money("total")
    #: The prices billed have the tax in them.
    tax_included = models.BooleanField(default=False)
    #: The organisation gets the tax back, so it is no cost.
    tax_recovered = models.BooleanField(default=False)
    #: The tax by the percent of each line.
    tax_expected = _money(gettext_lazy("tax by percent"))
    total_off = models.BooleanField(default=False, editable=False)
    tax_off = models.BooleanField(default=False, editable=False)
    token = models.CharField(max_length=36, editable=False)
    at = models.DateTimeField(auto_now_add=True)
    by = _who()
    reversed_at = models.DateTimeField(null=True, blank=True, editable=False)
    reversed_by = _who()
    reverse_reason = models.CharField(max_length=200, blank=True, editable=False)

    class Meta:
        ordering = ["order", "position"]
        indexes = [models.Index(fields=["organisation", "invoiced_on"], name="invoice_by_day")]
        constraints = [
            models.UniqueConstraint(fields=["order", "position"], name="invoice_position_once_an_order"),
            models.UniqueConstraint(fields=["organisation", "token"], name="invoice_once_a_form"),
            models.UniqueConstraint(
                "supplier",
                Lower("number"),
                condition=Q(reversed_at__isnull=True, credits__isnull=True),
                name="invoice_number_once_a_supplier",
            ),
            models.UniqueConstraint(
                "supplier",
                Lower("number"),
                condition=Q(reversed_at__isnull=True, credits__isnull=False),
                name="credit_number_once_a_supplier",
            ),
            models.CheckConstraint(
                condition=Q(
                    credits__isnull=True, goods__gte=0, delivery__gte=0, tax__gte=0, total__gte=0, tax_expected__gte=0
                )
                | Q(
                    credits__isnull=False, goods__lte=0, delivery__lte=0, tax__lte=0, total__lte=0, tax_expected__lte=0
                ),
                name="invoice_money_of_one_sign",
            ),
            models.CheckConstraint(condition=~Q(number=""), name="invoice_has_a_number"),
            models.CheckConstraint(
                condition=(Q(reversed_at__isnull=True) & Q(reverse_reason=""))
                | (Q(reversed_at__isnull=False) & ~Q(reverse_reason="")),
                name="invoice_reversed_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order.number} {self.word} {self.number}"

    @property
    def word(self) -> str:
        return gettext("invoice") if self.credits_id is None else gettext("credit note")

    @property
    def named(self) -> str:
        """Invoice R-7."""
        return f"{self.word.capitalize()} {self.number}"

    @property
    def to_pay(self) -> Decimal:
        """What the paper says, which is never below 0."""
        return abs(self.total)

    def get_absolute_url(self) -> str:
        return reverse("buying:invoice", args=[self.order.number, self.position])


class InvoiceLine(models.Model):
    """Pieces billed of a line of the order. ``landed``: their cost with their share of delivery and tax.

    Without pieces it is a share of delivery that was billed alone, or less money for pieces that a credit note leaves.
    """

    invoice = models.ForeignKey(Invoice, models.PROTECT, related_name="lines")
    order_line = models.ForeignKey(PurchaseOrderLine, models.PROTECT, related_name="invoice_lines")
    quantity = models.IntegerField()
    unit_price = models.DecimalField(max_digits=14, decimal_places=4)
    line_total = _money(gettext_lazy("line total"))
    landed = _money(gettext_lazy("landed cost"))

    class Meta:
        ordering = ["invoice", "order_line__position"]
        constraints = [
            models.UniqueConstraint(fields=["invoice", "order_line"], name="invoice_line_once"),
            models.CheckConstraint(
                condition=Q(quantity__gte=0, unit_price__gte=0, line_total__gte=0, landed__gte=0)
                | Q(quantity__lte=0, unit_price__gte=0, line_total__lte=0),
                name="invoice_line_of_one_sign",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.invoice}, {self.order_line}"


class InvoiceCheck(models.Model):
    """Somebody looked at how an invoice differs, and says what came of it. Never edited."""

    invoice = models.OneToOneField(Invoice, models.PROTECT, related_name="check_made")
    at = models.DateTimeField(auto_now_add=True)
    by = _who()
    words = models.CharField(max_length=200)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(words=""), name="invoice_check_says_something")]

    def __str__(self) -> str:
        return f"{self.invoice}: {self.words}"


class CostAdjustment(models.Model):
    """What an invoice, or its reversal, changed of the cost of pieces that had come. Never edited.

    ``amount`` belongs to the pieces of the receipt's lot, wherever they are by then, ``expense`` to damaged ones that
    nobody credits; both are signed.
    """

    receipt_line = models.ForeignKey(ReceiptLine, models.PROTECT, related_name="adjustments")
    invoice = models.ForeignKey(Invoice, models.PROTECT, null=True, blank=True, related_name="adjustments")
    amount = _money("amount")
    expense = _money(gettext_lazy("general expense"))
    reason = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    by = _who()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(amount=0) | ~Q(expense=0), name="cost_adjustment_is_something"),
        ]

    def __str__(self) -> str:
        return f"{self.receipt_line}: {self.reason}"


class AdjustmentShare(models.Model):
    """The part of an adjustment that pieces bear which are in stock no more: a house, a job as a whole, or nobody.

    ``members``: borne by members of a cooperative, who were handed the pieces out.

    The rest of ``adjustment.amount`` is on the lots as they lay then, as repricings. Never edited.
    """

    adjustment = models.ForeignKey(CostAdjustment, models.PROTECT, related_name="shares")
    house = models.ForeignKey("sites.House", models.PROTECT, null=True, blank=True, related_name="+")
    job = models.ForeignKey("quotes.Job", models.PROTECT, null=True, blank=True, related_name="+")
    members = models.BooleanField(default=False)
    amount = ThousandthsField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["adjustment", "house"], name="adjustment_share_once_a_house"),
            models.UniqueConstraint(fields=["adjustment", "job"], name="adjustment_share_once_a_job"),
            models.UniqueConstraint(
                fields=["adjustment", "members"],
                condition=Q(house__isnull=True, job__isnull=True),
                name="adjustment_share_once_general",
            ),
            models.CheckConstraint(
                condition=Q(house__isnull=True) | Q(job__isnull=True), name="adjustment_share_of_one_thing"
            ),
            models.CheckConstraint(
                condition=Q(members=False) | Q(house__isnull=True, job__isnull=True),
                name="adjustment_share_of_members_alone",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of {self.adjustment}"
