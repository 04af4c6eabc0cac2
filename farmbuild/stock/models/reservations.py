"""Who holds what: pieces of a lot, or of an order line that is to come, set aside for a house of an accepted plan.

What the database holds (constraints here, triggers in migration reservation_guards): no more is held than is there
or to come, only houses of an accepted plan hold, and a house is in one accepted plan at a time.
"""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.fields import LengthField
from farmbuild.orgs.models import OrgOwned
from farmbuild.stock.models.lots import Lot


class Reservation(OrgOwned):
    """So many pieces for one purpose of one house. ``quantity`` counts sticks or things of the lot or line.

    A stick that is cut for several houses is held for the one that needs it first; ``pieces`` say what each gets.
    """

    plan = models.ForeignKey("plans.Plan", models.PROTECT, related_name="reservations")
    house = models.ForeignKey("sites.House", models.PROTECT, related_name="reservations")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="reservations")
    order_line = models.ForeignKey(
        "buying.PurchaseOrderLine", models.PROTECT, null=True, blank=True, related_name="reservations"
    )
    purpose = models.CharField(max_length=120)
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)])
    need_by = models.DateField()
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["need_by", "pk"]
        indexes = [models.Index(fields=["organisation", "need_by", "id"], name="reservation_in_order")]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="reservation_holds_something"),
            models.CheckConstraint(
                condition=Q(lot__isnull=False, order_line__isnull=True) | Q(lot__isnull=True, order_line__isnull=False),
                name="reservation_of_a_lot_or_a_line",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} for {self.house}"


class HeldPiece(models.Model):
    """What is cut out of each held stick: ``each`` pieces of one length for one purpose of one house."""

    reservation = models.ForeignKey(Reservation, models.CASCADE, related_name="pieces")
    house = models.ForeignKey("sites.House", models.PROTECT, related_name="held_pieces")
    purpose = models.CharField(max_length=120)
    length = LengthField()
    each = models.PositiveIntegerField("from each stick", validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["reservation", "house", "purpose", "length"], name="held_piece_once_a_reservation"
            ),
            models.CheckConstraint(condition=Q(each__gt=0, length__gt=0), name="held_piece_is_something"),
        ]

    def __str__(self) -> str:
        return f"{self.each} for {self.house}"


class UsedHold(models.Model):
    """What a movement out of a lot took of a hold, so that pieces that come back are held again.

    ``pieces`` are those of the hold: lists of house key, purpose, length in mm as text, and how many each.
    ``back``: of them held again.
    """

    movement = models.ForeignKey("stock.Movement", models.PROTECT, related_name="used_holds")
    plan = models.ForeignKey("plans.Plan", models.PROTECT, related_name="used_holds")
    house = models.ForeignKey("sites.House", models.PROTECT, related_name="used_holds")
    purpose = models.CharField(max_length=120)
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    back = models.PositiveIntegerField(default=0)
    need_by = models.DateField()
    pieces = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, back__gte=0, back__lte=F("quantity")), name="used_hold_back_of_quantity"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} used for {self.house}"
