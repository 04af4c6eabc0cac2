"""Purchase orders, of a plan or made by hand, and the spreadsheet of each as it went out."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy, pgettext_lazy

from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.common.fields import LengthField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import Site


def _money(label: str) -> models.DecimalField:
    return models.DecimalField(label, max_digits=16, decimal_places=3)


def _who() -> models.ForeignKey:
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )


def due_day(promised_on: date | None, need_by: date, late_days: int) -> date:
    """The day promised, or the day it was ordered for and as late as the plan said it would be."""
    return promised_on or need_by + timedelta(days=late_days)


class PurchaseOrder(OrgOwned):
    """What is bought of one supplier. Which state follows which is held by a trigger too (migration guards).

    ``plan`` is None for an order made by hand. From ``changed_at`` on an order of a plan is another than the plan's.
    """

    class State(models.TextChoices):
        DRAFT = "draft", gettext_lazy("Draft")
        SENT = "sent", gettext_lazy("Sent")
        PART = "part", gettext_lazy("Part received")
        RECEIVED = "received", gettext_lazy("Received")
        CANCELLED = "cancelled", pgettext_lazy("order", "Cancelled")

    #: States in which goods may still come.
    OPEN = (State.SENT, State.PART)

    number = models.CharField(max_length=40)
    plan = models.ForeignKey("plans.Plan", models.PROTECT, null=True, blank=True, related_name="orders")
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="orders")
    delivery_site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    order_by = models.DateField()
    need_by = models.DateField()
    currency = models.CharField(max_length=3)
    goods = _money("goods")
    delivery = _money("delivery")
    tax = _money("tax")
    total = _money("total")
    #: By which its lines were last worked out by hand; None: as the plan has it.
    tax_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True, editable=False)
    #: Its prices, line totals and goods have the tax in them.
    tax_included = models.BooleanField(default=False, editable=False)
    note = models.CharField(gettext_lazy("note to the supplier"), max_length=300, blank=True)
    changed_at = models.DateTimeField(null=True, blank=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    state = models.CharField(max_length=9, choices=State, default=State.DRAFT, editable=False)
    sent_on = models.DateField(gettext_lazy("sent on"), null=True, blank=True, editable=False)
    sent_how = models.CharField(gettext_lazy("how it was sent"), max_length=120, blank=True, editable=False)
    sent_by = _who()
    #: It waits for a second person since then; None once it is changed. Stays when it is sent.
    asked_at = models.DateTimeField(null=True, blank=True, editable=False)
    asked_by = _who()
    cancelled_at = models.DateTimeField(null=True, blank=True, editable=False)
    cancelled_by = _who()
    cancel_reason = models.CharField(max_length=200, blank=True, editable=False)

    class Meta:
        ordering = ["order_by", "number"]
        indexes = [models.Index(fields=["organisation", "state", "order_by"], name="order_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="order_number_once_an_organisation"),
            models.UniqueConstraint(
                fields=["plan", "supplier"], condition=~Q(state="cancelled"), name="one_order_a_supplier_and_plan"
            ),
            models.CheckConstraint(
                condition=Q(goods__gte=0, delivery__gte=0, tax__gte=0, total__gte=0),
                name="order_money_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(state="draft", sent_on__isnull=True)
                | Q(state__in=["sent", "part", "received"], sent_on__isnull=False)
                | Q(state="cancelled"),
                name="order_sent_on_a_day",
            ),
            models.CheckConstraint(
                condition=(Q(state="cancelled", cancelled_at__isnull=False) & ~Q(cancel_reason=""))
                | (~Q(state="cancelled") & Q(cancelled_at__isnull=True, cancel_reason="")),
                name="order_cancelled_says_why",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("buying:order", args=[self.number])

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN

    @property
    def waits_for_second(self) -> bool:
        """Somebody asked for it, and nobody who may send that much has sent it."""
        return self.state == self.State.DRAFT and self.asked_at is not None

    @property
    def before_tax(self) -> Decimal:
        return self.total - self.tax

    @property
    def follows_plan(self) -> bool:
        """It is what its plan says, to the letter."""
        return self.plan_id is not None and self.changed_at is None

    @property
    def origin(self) -> str:
        """What tells it from an order that is just its plan's."""
        if self.plan_id is None:
            return gettext("made by hand")
        return "" if self.changed_at is None else gettext("changed by hand since the plan")


class SentWorkbook(models.Model):
    """The spreadsheet of an order as it went out, byte for byte. Never edited."""

    order = models.OneToOneField(PurchaseOrder, models.CASCADE, related_name="sent_workbook")
    name = models.CharField(max_length=200)
    data = models.BinaryField()
    #: Of ``data``, in hexadecimal (FIPS 180-4).
    sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Exact(Length("sha256"), 64), name="sent_workbook_has_a_checksum")
        ]

    def __str__(self) -> str:
        return self.name


class PurchaseOrderLine(models.Model):
    """One thing on an order. ``arrived`` and ``damaged`` are sums over receipts, kept by a trigger."""

    order = models.ForeignKey(PurchaseOrder, models.CASCADE, related_name="lines")
    position = models.PositiveIntegerField()
    material = models.ForeignKey(Material, models.PROTECT, related_name="+")
    description = models.CharField(max_length=240)
    supplier_code = models.CharField(max_length=60, blank=True)
    length = LengthField(null=True, blank=True)
    #: The offer that gives its price; None: as planned or as typed.
    offer = models.ForeignKey(Offer, models.SET_NULL, null=True, blank=True, related_name="+", editable=False)
    #: Where it goes, when elsewhere than the order.
    delivery_site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    needed = models.PositiveIntegerField()
    pack = models.PositiveIntegerField()
    quantity = models.PositiveIntegerField()
    unit_price = models.DecimalField(max_digits=14, decimal_places=4)
    line_total = _money(gettext_lazy("line total"))
    tax = _money("tax")
    #: By which its tax was worked out; None on lines made before materials had one of their own: the order's.
    tax_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True, editable=False)
    need_by = models.DateField()
    late_days = models.PositiveIntegerField(default=0)
    #: What came, of it damaged; damaged pieces are not in stock.
    arrived = models.PositiveIntegerField(default=0, editable=False)
    damaged = models.PositiveIntegerField(default=0, editable=False)
    #: Of what is to come, pieces held for houses: the sum of the reservations, kept by a trigger.
    reserved = models.PositiveIntegerField(default=0, editable=False)
    #: What the supplier answered; None where he said nothing.
    confirmed_price = models.DecimalField(
        max_digits=14, decimal_places=4, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    confirmed_quantity = models.PositiveIntegerField(null=True, blank=True)
    promised_on = models.DateField(null=True, blank=True)
    remark = models.CharField(max_length=200, blank=True)
    #: The rest is not coming any more.
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)
    closed_by = _who()
    closed_reason = models.CharField(max_length=200, blank=True, editable=False)

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["order", "position"]
        constraints = [
            models.UniqueConstraint(fields=["order", "position"], name="order_position_once"),
            models.CheckConstraint(
                condition=Q(quantity__gte=1, pack__gte=1, needed__gte=1, unit_price__gte=0),
                name="order_line_positive",
            ),
            models.CheckConstraint(condition=Q(damaged__lte=F("arrived")), name="order_line_damaged_of_arrived"),
            models.CheckConstraint(
                condition=(Q(closed_at__isnull=True) & Q(closed_reason=""))
                | (Q(closed_at__isnull=False) & ~Q(closed_reason="")),
                name="order_line_closed_says_why",
            ),
            models.CheckConstraint(
                condition=Q(confirmed_price__isnull=True) | Q(confirmed_price__gte=0),
                name="order_line_confirmed_price_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(reserved=0)
                | Q(closed_at__isnull=True, quantity__gte=F("reserved") + F("arrived") - F("damaged")),
                name="order_line_reserved_is_to_come",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order} line {self.position}"

    @property
    def deliver_to(self) -> Site:
        """Its own site, else that of the order."""
        return self.delivery_site or self.order.delivery_site

    @property
    def packs(self) -> int:
        return self.quantity // self.pack

    @property
    def good(self) -> int:
        """Pieces that came whole."""
        return self.arrived - self.damaged

    @property
    def to_come(self) -> int:
        return 0 if self.closed_at else max(0, self.quantity - self.good)

    @property
    def due_on(self) -> date:
        return due_day(self.promised_on, self.need_by, self.late_days)

    @property
    def price_now(self) -> Decimal:
        """As confirmed, else as ordered."""
        return self.unit_price if self.confirmed_price is None else self.confirmed_price
