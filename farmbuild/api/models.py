"""What lets other programs in."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from farmbuild.orgs.models import OrgOwned


class Token(OrgOwned):
    """Lets a program in as ``user``: as far as ``scopes`` say, and never further than that person may go then.

    The secret itself is not kept. ``uses`` counts those of the minute that began at ``minute``.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+", editable=False)
    name = models.CharField("program", max_length=60)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    #: How the secret begins, by which its owner knows it again.
    begins = models.CharField(max_length=12, editable=False)
    #: Values of ``scopes.Scope``.
    scopes = models.JSONField("what it may do", default=list)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    ends_at = models.DateTimeField("lasts until")
    ended_at = models.DateTimeField("ended", null=True, editable=False)
    used_at = models.DateTimeField("last use", null=True, editable=False)
    minute = models.DateTimeField(null=True, editable=False)
    uses = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("made_at")), name="token_ends_after_it_is_made"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_over(self) -> bool:
        return self.ended_at is not None or self.ends_at <= timezone.now()


class Answered(models.Model):
    """What was answered to a request with a key of its own, so that the same request counts once.

    Stored in the transaction of what was done, so that both are there or neither is. ``digest``: of what was asked.
    """

    token = models.ForeignKey(Token, models.CASCADE, related_name="+")
    key = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    at = models.DateTimeField(default=timezone.now)
    status = models.PositiveSmallIntegerField(default=0)
    location = models.CharField(max_length=300, blank=True)
    body = models.TextField(blank=True)

    class Meta:
        verbose_name_plural = "answered"
        indexes = [models.Index(fields=["token", "at"], name="answered_by_time")]
        constraints = [models.UniqueConstraint(fields=["token", "key"], name="answered_once_a_key")]

    def __str__(self) -> str:
        return f"{self.status} to {self.key}"
