"""What somebody says that a job is still going to cost."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from farmbuild.orgs.models import OrgOwned
from farmbuild.quotes.models.columns import money, who
from farmbuild.quotes.models.jobs import Job


class ToCome(OrgOwned):
    """What is still to come of a job, typed over what is worked out; the last of a job counts.

    ``amount``: in coins, orders on their way with it; None: what is worked out counts again.
    """

    job = models.ForeignKey(Job, models.CASCADE, related_name="to_come")
    amount = money(gettext_lazy("still to come"), empty=True)
    reason = models.CharField("why", max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    by = who()

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "still to come"
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__isnull=True) | Q(amount__gte=0), name="still_to_come_not_below_nothing"
            ),
        ]

    def __str__(self) -> str:
        return f"Still to come of {self.job.reference}"
