"""Joint orders: what members want of one purchase, the orders made of it, and what was handed out of what came."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import MAX_QUANTITY, Material
from farmbuild.common.fields import LengthField
from farmbuild.crew.models import Member
from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import Site
from farmbuild.stock.models import Lot, Movement


def _who() -> models.ForeignKey:
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )


def _pieces(*args: str) -> models.PositiveIntegerField:
    return models.PositiveIntegerField(*args, validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)])


class JointOrder(OrgOwned):
    """What members want together until ``closes_on``, that day included; from ``closed_at`` on nothing of it changes.

    A joint order past its day takes no more, whether or not somebody has closed it yet. ``market``: the offers of then,
    as closing found them, by which what each would pay alone is worked out.
    """

    class DamageRule(models.TextChoices):
        LISTED = "listed", _("One piece fewer each, from the first listed on")
        SHARED = "shared", _("Shared by the pieces that each ordered")
        COOP = "coop", _("The cooperative pays for them")

    #: A counter of the organisation, for addresses.
    number = models.PositiveIntegerField(editable=False)
    title = models.CharField(_("what it is for"), max_length=80)
    closes_on = models.DateField(_("last day to put something in"))
    need_by = models.DateField(_("wanted by"))
    delivery_site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    damage_rule = models.CharField(_("damaged pieces"), max_length=6, choices=DamageRule, default=DamageRule.LISTED)
    note = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = _who()
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)
    closed_by = _who()
    market = models.JSONField(null=True, blank=True, editable=False)
    ended_at = models.DateTimeField(null=True, blank=True, editable=False)
    ended_by = _who()
    end_reason = models.CharField(_("why it is called off"), max_length=200, blank=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="joint_number_once_an_organisation"),
            models.CheckConstraint(condition=~Q(title=""), name="joint_has_a_title"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, end_reason="")
                | (Q(ended_at__isnull=False, closed_at__isnull=True) & ~Q(end_reason="")),
                name="joint_called_off_says_why",
            ),
        ]

    def __str__(self) -> str:
        return gettext("Joint order %(number)s, %(title)s") % {"number": self.number, "title": self.title}

    def get_absolute_url(self) -> str:
        return reverse("coop:joint", args=[self.number])


class JointMember(models.Model):
    """A member in a joint order: ``position`` is its place in the list, ``alone`` what its pieces come to alone.

    ``alone`` and ``foreseen`` are as at closing, delivery and tax with them; None while it is open.
    """

    joint = models.ForeignKey(JointOrder, models.CASCADE, related_name="members")
    member = models.ForeignKey(Member, models.PROTECT, related_name="+")
    position = models.PositiveIntegerField(editable=False)
    alone = models.DecimalField(max_digits=16, decimal_places=3, null=True, blank=True, editable=False)
    foreseen = models.DecimalField(max_digits=16, decimal_places=3, null=True, blank=True, editable=False)

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["joint", "member"], name="joint_member_once")]

    def __str__(self) -> str:
        return str(self.member)


class JointNeed(models.Model):
    """So many equal pieces for one member. ``plan``: the number of its farm's plan that it was put in from, or none."""

    joint = models.ForeignKey(JointOrder, models.CASCADE, related_name="needs")
    member = models.ForeignKey(Member, models.PROTECT, related_name="+")
    material = models.ForeignKey(Material, models.PROTECT, related_name="+")
    length = LengthField(
        _("length of one piece"), null=True, blank=True, help_text=_("Leave empty for counted things.")
    )
    quantity = _pieces()
    plan = models.PositiveIntegerField(null=True, blank=True, editable=False)
    put_in_at = models.DateTimeField(auto_now=True)
    put_in_by = _who()

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["material__name", "material__code", "length", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["joint", "member", "material", "length"], name="joint_need_once"),
            models.UniqueConstraint(
                fields=["joint", "member", "material"],
                condition=Q(length__isnull=True),
                name="joint_need_of_counted_once",
            ),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="joint_need_of_something"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.material} for {self.member}"


class JointPurchase(models.Model):
    """A purchase order that closing made."""

    joint = models.ForeignKey(JointOrder, models.PROTECT, related_name="purchases")
    order = models.OneToOneField(PurchaseOrder, models.PROTECT, related_name="joint_purchase")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.order} of {self.joint}"


class Handout(OrgOwned):
    """Pieces of one lot handed out to a member, or that taken back. Never edited (guards).

    ``press``: of the form, so that one that is sent twice hands out once; rows of one press have different lots.
    """

    joint = models.ForeignKey(JointOrder, models.PROTECT, related_name="handouts")
    member = models.ForeignKey(Member, models.PROTECT, related_name="+")
    movement = models.OneToOneField(Movement, models.PROTECT, related_name="handout")
    material = models.ForeignKey(Material, models.PROTECT, related_name="+")
    length = LengthField(null=True, blank=True)
    quantity = models.IntegerField()
    day = models.DateField(_("handed out on"))
    signed = models.CharField(_("signed for by"), max_length=120, blank=True)
    press = models.CharField(max_length=40, editable=False)
    at = models.DateTimeField(auto_now_add=True)
    by = _who()
    reverses = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="reversed_by", editable=False
    )
    reason = models.CharField("why it is taken back", max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["joint", "member"], name="handout_by_member")]
        constraints = [
            models.CheckConstraint(
                condition=Q(reverses__isnull=True, reason="", quantity__gt=0)
                | (Q(reverses__isnull=False, quantity__lt=0) & ~Q(reason="")),
                name="handout_taken_back_says_why",
            ),
        ]

    def __str__(self) -> str:
        return gettext("%(quantity)s of %(material)s to %(member)s") % {
            "quantity": self.quantity,
            "material": self.material,
            "member": self.member,
        }


class TakenOver(models.Model):
    """Pieces handed out that the member's farm has taken into its own stock: ``lot`` is the farm's. Never edited."""

    handout = models.OneToOneField(Handout, models.PROTECT, related_name="taken_over")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    amount = models.DecimalField(max_digits=16, decimal_places=3)
    at = models.DateTimeField(auto_now_add=True)
    by = _who()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(amount__gte=0), name="taken_over_amount_not_negative")]

    def __str__(self) -> str:
        return f"{self.handout} in {self.lot}"
