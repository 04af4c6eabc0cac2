"""Warnings of benders that went out."""

from django.conf import settings
from django.db import models

from farmbuild.crew.models.bookings import BenderBooking
from farmbuild.orgs.models import OrgOwned


class SentWarning(OrgOwned):
    """A warning of a bender that went by e-mail to one person of one booking. Whoever has claimed it sends it.

    ``finding`` names what is found since when, so that the same is told once and the next is told again.
    """

    booking = models.ForeignKey(BenderBooking, models.CASCADE, related_name="sent_warnings")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    finding = models.CharField(max_length=80)
    claimed_until = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["booking", "user", "finding"], name="sent_warning_once_a_finding")
        ]

    def __str__(self) -> str:
        return f"{self.finding} for {self.user}"
