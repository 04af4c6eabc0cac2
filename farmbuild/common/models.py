"""What a form did, so that the same form counts once."""

from django.conf import settings
from django.db import models


class Press(models.Model):
    """A form that was sent and did something, and the page that it led to.

    Stored in the transaction of what it did, so that both are there or neither is.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    token = models.CharField(max_length=32)
    #: SHA-256 of what was sent and where to. The same form filled in otherwise is another press.
    digest = models.CharField(max_length=64)
    at = models.DateTimeField(auto_now_add=True)
    went_to = models.TextField(blank=True)

    class Meta:
        verbose_name_plural = "presses"
        indexes = [models.Index(fields=["user", "at"], name="press_by_day")]
        constraints = [models.UniqueConstraint(fields=["user", "token", "digest"], name="press_counts_once")]

    def __str__(self) -> str:
        return f"{self.user}, {self.at:%Y-%m-%d %H:%M}"
