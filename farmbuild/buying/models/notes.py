"""What is to be told to a supplier of an order that went out."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from farmbuild.buying.models.orders import PurchaseOrderLine


class LessWanted(models.Model):
    """``quantity`` pieces of a line that is on order are not needed any more, since the plan was accepted."""

    line = models.ForeignKey(PurchaseOrderLine, models.CASCADE, related_name="less_wanted")
    plan = models.ForeignKey("plans.Plan", models.CASCADE, related_name="+")
    quantity = models.PositiveIntegerField()
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["line", "plan"], name="less_wanted_once_a_line_and_plan"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="less_wanted_is_something"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} fewer of {self.line}"
