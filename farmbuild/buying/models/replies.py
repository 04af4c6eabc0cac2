"""The order sheet as the supplier sent it back."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from farmbuild.buying.models.orders import PurchaseOrder
from farmbuild.orgs.models import OrgOwned


class Reply(OrgOwned):
    """``rows`` as understood (see replying.py); nothing of it is on the order before it is taken over."""

    order = models.ForeignKey(PurchaseOrder, models.CASCADE, related_name="replies")
    filename = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    read_at = models.DateTimeField(auto_now_add=True)
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    rows = models.JSONField()
    bad_rows = models.PositiveIntegerField()
    differences = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "replies"
        constraints = [
            models.CheckConstraint(condition=Q(taken_at__isnull=True) | Q(bad_rows=0), name="reply_taken_is_right")
        ]

    def __str__(self) -> str:
        return f"{self.filename} for {self.order}"
