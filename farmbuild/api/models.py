"""What lets other programs in, and what they are told."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from farmbuild.common.long_work import LongWork
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
    scopes = models.JSONField(gettext_lazy("what it may do"), default=list)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    ends_at = models.DateTimeField(gettext_lazy("lasts until"))
    ended_at = models.DateTimeField("ended", null=True, editable=False)
    used_at = models.DateTimeField(gettext_lazy("last use"), null=True, editable=False)
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


class Webhook(LongWork, OrgOwned):
    """An address that is told of each entry of the history after ``mark``, in order.

    It is the work itself: who claims the row sends what is next. No message is stored: each follows from its entry, so
    a try that was cut short is made again with the same one. Secrets follow from ``nonce`` (``webhooks/signing.py``).
    """

    WAITS_SINCE = ("heard_from_at", "made_at")

    url = models.CharField("address", max_length=300)
    #: What it is told is what this one could read.
    token = models.ForeignKey(Token, models.SET_NULL, null=True, related_name="+", verbose_name="program")
    #: Messages are named by it, so that a name stays theirs on every server.
    ref = models.CharField(max_length=32, unique=True, editable=False)
    nonce = models.CharField(max_length=64, editable=False)
    nonce_before = models.CharField(max_length=64, blank=True, editable=False)
    #: Until then messages are signed by the secret before too.
    before_until = models.DateTimeField(null=True, editable=False)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    mark = models.PositiveBigIntegerField(default=0, editable=False)
    trial_at = models.DateTimeField(null=True, editable=False)
    tries = models.PositiveSmallIntegerField(default=0, editable=False)
    next_try_at = models.DateTimeField(null=True, editable=False)
    failing_since = models.DateTimeField(null=True, editable=False)
    stopped_at = models.DateTimeField("stopped", null=True, editable=False)
    why_stopped = models.CharField(gettext_lazy("why it was stopped"), max_length=300, blank=True, editable=False)
    ended_at = models.DateTimeField("ended", null=True, editable=False)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "url"], condition=Q(ended_at=None), name="webhook_once_an_address"
            ),
        ]

    def __str__(self) -> str:
        return self.url


class Attempt(models.Model):
    """A message that was sent to an address, and what was answered: ``status`` of HTTP, 0 for no answer.

    ``mark`` of the entry, none of a trial; ``number``: which try of it.
    """

    webhook = models.ForeignKey(Webhook, models.CASCADE, related_name="attempts")
    at = models.DateTimeField(default=timezone.now)
    mark = models.PositiveBigIntegerField(null=True)
    number = models.PositiveSmallIntegerField(default=1)
    status = models.PositiveSmallIntegerField(default=0)
    words = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.words} {self.webhook_id}"
