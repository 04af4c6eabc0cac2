"""Common stock that is open to members, and what they wish of it."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.coop.models.pipe import _pieces, _who
from farmbuild.crew.models import Member
from farmbuild.orgs.models import OrgOwned
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot, Movement


class CommonOffer(OrgOwned):
    """Pieces of a lot of the cooperative that members may wish for, at a price of one; of it ``wished`` and ``given``.

    Without rows in ``members`` it is open to all. ``wished`` counts open wishes, which are held for them (a trigger
    keeps both sums); ended, nobody wishes for more of it.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="common_offers")
    quantity = _pieces(gettext_lazy("pieces that are open"))
    price = models.DecimalField(
        gettext_lazy("price of one piece"), max_digits=14, decimal_places=4, validators=[MinValueValidator(Decimal(0))]
    )
    members = models.ManyToManyField(Member, blank=True, related_name="+")
    until = models.DateField(gettext_lazy("last day"), null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = _who()
    ended_at = models.DateTimeField(null=True, blank=True, editable=False)
    ended_by = _who()
    wished = models.PositiveIntegerField(default=0, editable=False)
    given = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["lot"], condition=Q(ended_at=None), name="common_lot_open_once"),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, price__gte=0, quantity__gte=F("wished") + F("given")),
                name="common_no_more_than_is_open",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.lot}"

    def get_absolute_url(self) -> str:
        return reverse("coop:common-offer", args=[self.pk])

    @property
    def free(self) -> int:
        """Pieces that nobody wishes for yet."""
        return self.quantity - self.wished - self.given


class CommonWish(OrgOwned):
    """So many pieces of an offer that a member wishes for, at the price of then; held for it until it is answered."""

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Wished for")
        GIVEN = "given", gettext_lazy("Handed over")
        DECLINED = "declined", gettext_lazy("Declined")
        WITHDRAWN = "withdrawn", gettext_lazy("Withdrawn")

    offer = models.ForeignKey(CommonOffer, models.PROTECT, related_name="wishes")
    member = models.ForeignKey(Member, models.PROTECT, related_name="common_wishes")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)])
    price = models.DecimalField(max_digits=14, decimal_places=4, editable=False)
    note = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=9, choices=State, default=State.OPEN, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = _who()
    answered_at = models.DateTimeField(null=True, blank=True, editable=False)
    answered_by = _who()
    answer = models.CharField(max_length=200, blank=True)
    movement = models.OneToOneField(Movement, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    #: The accepted plan of its farm, and the house, that it was asked for by; none where somebody typed it. ``wanted``:
    #: for what, as ``common/plans.py`` has it.
    plan = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    house = models.ForeignKey(House, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    wanted = models.JSONField(default=list, editable=False)
    #: Where the member is a farm with an organisation: the lot there that it was received into.
    farm_lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="+", editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="wish_is_something"),
            models.CheckConstraint(
                condition=Q(state="given", movement__isnull=False) | (~Q(state="given") & Q(movement__isnull=True)),
                name="wish_given_is_handed_over",
            ),
            models.CheckConstraint(condition=~Q(state="declined") | ~Q(answer=""), name="wish_declined_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} for {self.member}"
