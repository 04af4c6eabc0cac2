"""Purchase orders, one a supplier and plan."""

from django.db import models
from django.db.models import Q

from farmbuild.catalogue.models import Material, Supplier
from farmbuild.common.fields import LengthField
from farmbuild.orgs.models import OrgOwned
from farmbuild.plans.models import Plan
from farmbuild.sites.models import Site


def _money(label: str) -> models.DecimalField:
    return models.DecimalField(label, max_digits=16, decimal_places=3)


class PurchaseOrder(OrgOwned):
    number = models.CharField(max_length=40)
    plan = models.ForeignKey(Plan, models.PROTECT, related_name="orders")
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="orders")
    delivery_site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    order_by = models.DateField()
    need_by = models.DateField()
    currency = models.CharField(max_length=3)
    goods = _money("goods")
    delivery = _money("delivery")
    tax = _money("tax")
    total = _money("total")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["order_by", "number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="order_number_once_an_organisation"),
            models.UniqueConstraint(fields=["plan", "supplier"], name="one_order_a_supplier_and_plan"),
            models.CheckConstraint(
                condition=Q(goods__gte=0, delivery__gte=0, tax__gte=0, total__gte=0),
                name="order_money_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class PurchaseOrderLine(models.Model):
    order = models.ForeignKey(PurchaseOrder, models.CASCADE, related_name="lines")
    position = models.PositiveIntegerField()
    material = models.ForeignKey(Material, models.PROTECT, related_name="+")
    description = models.CharField(max_length=240)
    supplier_code = models.CharField(max_length=60, blank=True)
    length = LengthField(null=True, blank=True)
    needed = models.PositiveIntegerField()
    pack = models.PositiveIntegerField()
    quantity = models.PositiveIntegerField()
    unit_price = models.DecimalField(max_digits=14, decimal_places=4)
    line_total = _money("line total")
    tax = _money("tax")
    need_by = models.DateField()
    late_days = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["order", "position"]
        constraints = [
            models.UniqueConstraint(fields=["order", "position"], name="order_position_once"),
            models.CheckConstraint(
                condition=Q(quantity__gte=1, pack__gte=1, needed__gte=1, unit_price__gte=0),
                name="order_line_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order} line {self.position}"

    @property
    def packs(self) -> int:
        return self.quantity // self.pack
