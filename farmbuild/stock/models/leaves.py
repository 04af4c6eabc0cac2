"""Leave of a member to take pieces of a lot that is the member's own."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet
from farmbuild.stock.models.lots import Lot


class LeaveQuerySet(OrgOwnedQuerySet):
    def standing(self) -> "LeaveQuerySet":
        """Not ended; some may be used up, or their last day over."""
        return self.filter(ended_at=None)


class Leave(OrgOwned):
    """So many pieces of a member's lot may be taken: by one ``house``, one other ``member``, or whoever needs them.

    Used are the pieces of movements that name it. It is only ever lowered or ended, which the database holds too.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="leaves")
    quantity = models.PositiveIntegerField(
        "pieces that may be taken", validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)]
    )
    house = models.ForeignKey(
        "sites.House", models.PROTECT, null=True, blank=True, related_name="+", verbose_name="for one house alone"
    )
    member = models.ForeignKey(
        "crew.Member", models.PROTECT, null=True, blank=True, related_name="+", verbose_name="for one member alone"
    )
    until = models.DateField("last day", null=True, blank=True)
    told = models.CharField(
        "how the owner told it", max_length=200, blank=True, help_text="Empty where the owner gave it by itself."
    )
    given_at = models.DateTimeField(auto_now_add=True)
    given_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="+")
    ended_at = models.DateTimeField(null=True, editable=False)
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="+")
    ended_because = models.CharField("why it ended", max_length=200, blank=True, editable=False)

    objects = LeaveQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=0), name="leave_not_negative"),
            models.CheckConstraint(condition=Q(house__isnull=True) | Q(member__isnull=True), name="leave_for_one"),
            models.UniqueConstraint(
                fields=["lot"],
                condition=Q(ended_at=None, house=None, member=None),
                name="leave_for_whoever_once_a_lot",
            ),
            models.UniqueConstraint(
                fields=["lot", "house"], condition=Q(ended_at=None), name="leave_once_a_lot_and_house"
            ),
            models.UniqueConstraint(
                fields=["lot", "member"], condition=Q(ended_at=None), name="leave_once_a_lot_and_member"
            ),
        ]

    def __str__(self) -> str:
        return f"Leave for {self.quantity} of {self.lot}"
