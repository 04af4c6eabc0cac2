"""What members owe the cooperative and what it owes them, entry by entry."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from farmbuild.crew.models import Member
from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet


class EntryQuerySet(OrgOwnedQuerySet):
    def net(self) -> "EntryQuerySet":
        """Without what was taken back, and without the entries that took it back."""
        return self.filter(reverses=None, reversed_by=None)


class MemberEntry(OrgOwned):
    """One line of a member's account. Never edited; taken back once, by its opposite (guards).

    ``amount`` in whole coins of the cooperative's currency: above zero the member owes it, below zero he is owed it.
    ``source``: what it was posted for, once a member and kind, such as "order 12" by its key; empty where it was typed.
    """

    class Kind(models.TextChoices):
        DAYS = "days", gettext_lazy("Bender by the day")
        PULLS = "pulls", gettext_lazy("Pulls of a bender")
        LATE = "late", gettext_lazy("Late return")
        DAMAGE = "damage", gettext_lazy("Damage")
        ORDER = "order", gettext_lazy("Joint order")
        PIPE = "pipe", gettext_lazy("Pipe between members")
        STOCK = "stock", gettext_lazy("Common stock")
        PAID = "paid", gettext_lazy("Paid")
        OTHER = "other", gettext_lazy("Other")

    member = models.ForeignKey(Member, models.PROTECT, related_name="entries")
    day = models.DateField()
    kind = models.CharField(max_length=8, choices=Kind)
    what = models.CharField(max_length=200)
    amount = models.DecimalField(max_digits=15, decimal_places=3)
    source = models.CharField(max_length=60, blank=True, editable=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    at = models.DateTimeField(auto_now_add=True)
    reverses = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="reversed_by", editable=False
    )
    reason = models.CharField("why it is taken back", max_length=200, blank=True)

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering = ["day", "pk"]
        indexes = [
            models.Index(fields=["member", "day"], name="member_entry_by_day"),
            models.Index(fields=["organisation", "kind", "source"], name="member_entry_by_source"),
        ]
        constraints = [
            models.CheckConstraint(condition=~Q(amount=0), name="member_entry_of_some_money"),
            models.CheckConstraint(
                condition=Q(reverses__isnull=True, reason="") | (Q(reverses__isnull=False) & ~Q(reason="")),
                name="member_entry_taken_back_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.member}, {self.day}"
