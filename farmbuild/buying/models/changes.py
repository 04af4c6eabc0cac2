"""Who changed what on an order by hand, while it was a draft."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from farmbuild.buying.models.orders import PurchaseOrder


class OrderChange(models.Model):
    """One change in words. Never edited."""

    order = models.ForeignKey(PurchaseOrder, models.CASCADE, related_name="changes")
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    what = models.CharField(max_length=600)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.what
