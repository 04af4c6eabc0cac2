"""What came of an order. A receipt is never edited; a wrong one is reversed by another."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from farmbuild.buying.models.orders import PurchaseOrder, PurchaseOrderLine
from farmbuild.orgs.models import OrgOwned
from farmbuild.stock.models import Lot, Place


class Receipt(OrgOwned):
    """One delivery, or the reversal of one.

    ``token`` comes from the form: a form that is sent twice is one receipt.
    """

    order = models.ForeignKey(PurchaseOrder, models.PROTECT, related_name="receipts")
    number = models.PositiveIntegerField(editable=False)
    received_on = models.DateField(gettext_lazy("received on"))
    paper = models.CharField(gettext_lazy("delivery note"), max_length=60, blank=True)
    #: The supplier replaces damaged pieces or takes them off the bill; else they are a general expense.
    damage_credited = models.BooleanField(default=True)
    token = models.CharField(max_length=36, editable=False)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    reverses = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="reversed_by", editable=False
    )
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["order", "number"]
        constraints = [
            models.UniqueConstraint(fields=["order", "number"], name="receipt_number_once_an_order"),
            models.UniqueConstraint(fields=["organisation", "token"], name="receipt_once_a_form"),
            models.CheckConstraint(
                condition=Q(reverses__isnull=True) | ~Q(reason=""), name="receipt_reversed_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order.number} receipt {self.number}"


class ReceiptLine(models.Model):
    """What came of one line of the order; in a reversal the counts are below zero.

    Whole pieces are in ``lot``; damaged ones went nowhere. ``amount`` is the landed cost of the whole ones as it was
    when they came, and ``expense`` that of damaged ones that nobody credits; None on lines from before it was kept.
    """

    receipt = models.ForeignKey(Receipt, models.PROTECT, related_name="lines")
    order_line = models.ForeignKey(PurchaseOrderLine, models.PROTECT, related_name="receipt_lines")
    arrived = models.IntegerField()
    damaged = models.IntegerField(default=0)
    damage_reason = models.CharField(max_length=200, blank=True)
    unit_price = models.DecimalField(max_digits=14, decimal_places=4)
    amount = models.DecimalField("landed cost", max_digits=16, decimal_places=3, null=True, blank=True)
    expense = models.DecimalField("general expense", max_digits=16, decimal_places=3, null=True, blank=True)
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="+")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="receipt_lines")

    class Meta:
        ordering = ["receipt", "order_line__position"]
        constraints = [
            models.UniqueConstraint(fields=["receipt", "order_line"], name="receipt_line_once"),
            models.CheckConstraint(
                condition=Q(arrived__gt=0, damaged__gte=0, damaged__lte=F("arrived"))
                | Q(arrived__lt=0, damaged__lte=0, damaged__gte=F("arrived")),
                name="receipt_line_damaged_of_arrived",
            ),
            models.CheckConstraint(condition=Q(damaged=0) | ~Q(damage_reason=""), name="receipt_damage_says_why"),
            models.CheckConstraint(
                condition=Q(arrived=F("damaged"), lot__isnull=True) | (~Q(arrived=F("damaged")) & Q(lot__isnull=False)),
                name="receipt_whole_pieces_are_a_lot",
            ),
            models.CheckConstraint(condition=Q(unit_price__gte=0), name="receipt_price_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.receipt}, {self.order_line}"

    @property
    def good(self) -> int:
        return self.arrived - self.damaged
