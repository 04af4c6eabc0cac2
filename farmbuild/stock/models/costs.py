"""What movements cost whom, and lots given another price."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from farmbuild.common.fields import ThousandthsField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.stock.models.lots import Lot
from farmbuild.stock.models.movements import Movement


class CostShare(models.Model):
    """What a movement costs one house, a job as a whole, or nobody by name: general expense. Never edited.

    Above zero is a cost, below zero one that is taken back. The shares of a movement add up to its amount and its
    quantity with the other sign; a stick that several houses share has a part of a piece in each.
    """

    movement = models.ForeignKey(Movement, models.PROTECT, related_name="shares")
    house = models.ForeignKey("sites.House", models.PROTECT, null=True, blank=True, related_name="cost_shares")
    job = models.ForeignKey("quotes.Job", models.PROTECT, null=True, blank=True, related_name="cost_shares")
    quantity = ThousandthsField()
    amount = ThousandthsField()

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["movement", "house"], name="cost_share_once_a_house"),
            models.UniqueConstraint(fields=["movement", "job"], name="cost_share_once_a_job"),
            models.UniqueConstraint(
                fields=["movement"], condition=Q(house__isnull=True, job__isnull=True), name="cost_share_once_general"
            ),
            models.CheckConstraint(
                condition=Q(house__isnull=True) | Q(job__isnull=True), name="cost_share_of_one_thing"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of {self.movement}"


class Repricing(models.Model):
    """The pieces on hand of a lot are worth more or less from now on, and why. Never edited; no past cost changes."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="repricings")
    pieces = models.PositiveIntegerField("pieces on hand")
    old_cost = models.DecimalField("cost of one before", max_digits=14, decimal_places=4)
    new_cost = models.DecimalField(
        "cost of one", max_digits=14, decimal_places=4, validators=[MinValueValidator(Decimal(0))]
    )
    amount = ThousandthsField("change of the value on hand")
    reason = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(new_cost__gte=0, old_cost__gte=0), name="repricing_not_negative"),
            models.CheckConstraint(condition=~Q(reason=""), name="repricing_says_why"),
        ]

    def __str__(self) -> str:
        return f"Repricing of {self.lot}"
