"""Entries: what one person's act changed of one record."""

from django.conf import settings
from django.db import models


class Entry(models.Model):
    """What one act of one person changed of one record, in the words of then. Never edited and never deleted.

    ``act`` is shared by all entries of one user action; ``first`` stands for it in the list, with how many ``others``.
    The record is named by its kind and key alone, so that its history outlives it. ``changes``: see ``values.py``.
    """

    organisation = models.ForeignKey("orgs.Organisation", models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField("when")
    act = models.UUIDField(editable=False)
    first = models.BooleanField(default=True)
    others = models.PositiveIntegerField(default=0)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    who = models.CharField(max_length=300)
    kind = models.CharField(max_length=20)
    record = models.BigIntegerField()
    name = models.CharField(max_length=200)
    #: By what the record's page is found: the short name or number in its address.
    address_key = models.CharField(max_length=120, blank=True)
    deed = models.CharField(max_length=80)
    removed = models.BooleanField(default=False)
    changes = models.JSONField(default=list)

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name_plural = "entries"
        indexes = [
            models.Index(fields=["organisation", "-at", "-id"], name="entry_by_time"),
            models.Index(fields=["organisation", "kind", "record", "-at", "-id"], name="entry_by_record"),
            models.Index(fields=["organisation", "user", "-at", "-id"], name="entry_by_person"),
            models.Index(fields=["organisation", "act"], name="entry_by_act"),
            models.Index(fields=["organisation", "id"], name="entry_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.who} {self.deed} {self.name}"
