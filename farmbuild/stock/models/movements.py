"""The movements that alone change a lot, and the cuts that tie some of them together."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.fields import ThousandthsField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.measure import format_signed
from farmbuild.orgs.models import OrgOwned
from farmbuild.stock.models.lots import Lot


class Cut(OrgOwned):
    """Equal sticks of one lot cut alike, in one go. The lengths are those of one stick, in whole nanometres.

    A stored length has six places of a millimetre, so the whole numbers are exact on every database, and the
    constraint that nothing of a stick is lost can be an equation.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="cuts")
    sticks = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)])
    stick_nm = models.BigIntegerField()
    kerf_nm = models.BigIntegerField()
    kerfs = models.PositiveIntegerField(help_text="Saw cuts in one stick.")
    pieces_nm = models.BigIntegerField()
    offcut_nm = models.BigIntegerField()
    scrap_nm = models.BigIntegerField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(stick_nm=F("pieces_nm") + F("kerf_nm") * F("kerfs") + F("offcut_nm") + F("scrap_nm")),
                name="cut_loses_no_length",
            ),
            models.CheckConstraint(
                condition=Q(sticks__gt=0, pieces_nm__gt=0, kerf_nm__gte=0, offcut_nm__gte=0, scrap_nm__gte=0),
                name="cut_lengths_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"Cut of {self.lot}"


class CutPiece(models.Model):
    """What came out of each stick of a cut: so many pieces of one length, into one lot; the kept end too."""

    cut = models.ForeignKey(Cut, models.PROTECT, related_name="pieces")
    lot = models.OneToOneField(Lot, models.PROTECT, related_name="cut_from")
    each = models.PositiveIntegerField("from each stick", validators=[MinValueValidator(1)])
    length_nm = models.BigIntegerField()
    offcut = models.BooleanField("the end that was kept")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(each__gt=0, length_nm__gt=0), name="cut_piece_is_something"),
        ]

    def __str__(self) -> str:
        return f"{self.each} in {self.lot}"


class Movement(models.Model):
    """One change of one lot: how many, when, who, why, and the paper that says so.

    Never edited and never deleted, which the database holds too; a wrong one is reversed by another of the same
    kind with the opposite quantity and amount.
    """

    class Kind(models.TextChoices):
        RECEIVE = "receive", gettext_lazy("Received")
        COUNT = "count", gettext_lazy("Count adjustment")
        SCRAP = "scrap", gettext_lazy("Scrapped")
        ISSUE = "issue", gettext_lazy("Issued")
        RETURN = "return", gettext_lazy("Returned")
        CUT = "cut", gettext_lazy("Cut")
        MOVE = "move", gettext_lazy("Moved")
        LEND = "lend", gettext_lazy("Lent")
        GIVEN_BACK = "givenback", gettext_lazy("Loan returned")
        HANDED_OUT = "handout", gettext_lazy("Handed out to a member")

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=10, choices=Kind)
    quantity = models.IntegerField(help_text="Above zero: into the lot. Below: out of it.")
    amount = ThousandthsField(
        default=Decimal(0),
        editable=False,
        help_text="What the pieces cost, in whole coins; its sign is the quantity's.",
    )
    estimated = models.BooleanField(
        default=False, editable=False, help_text="From before amounts were kept: by what one piece costs later."
    )
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    reason = models.CharField(max_length=200, blank=True)
    paper = models.CharField(max_length=80, blank=True, help_text="Delivery note, order or sheet that says so.")
    borrower = models.CharField(max_length=120, blank=True)
    back_on = models.DateField("back by", null=True, blank=True)
    house = models.ForeignKey("sites.House", models.PROTECT, null=True, blank=True, related_name="movements")
    member = models.ForeignKey("crew.Member", models.PROTECT, null=True, blank=True, related_name="movements")
    leave = models.ForeignKey("stock.Leave", models.PROTECT, null=True, blank=True, related_name="movements")
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversed_by")
    gives_back = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="given_back")
    moved_from = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="moved_to")
    cut = models.ForeignKey(Cut, models.PROTECT, null=True, blank=True, related_name="movements")

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        # What the trigger that keeps the value of a lot sums up.
        indexes = [models.Index(fields=["lot", "amount"], name="movement_amounts")]
        constraints = [
            models.CheckConstraint(condition=~Q(quantity=0), name="movement_moves_something"),
            models.CheckConstraint(
                condition=Q(kind__in=["count", "cut", "move"])
                | Q(reverses__isnull=False)
                | Q(kind__in=["receive", "return", "givenback"], quantity__gt=0)
                | Q(kind__in=["scrap", "issue", "lend", "handout"], quantity__lt=0),
                name="movement_goes_the_right_way",
            ),
            models.CheckConstraint(
                condition=(Q(kind__in=["lend", "givenback"]) & ~Q(borrower=""))
                | (~Q(kind__in=["lend", "givenback"]) & Q(borrower="")),
                name="movement_names_the_borrower",
            ),
            models.CheckConstraint(
                condition=Q(kind="givenback", gives_back__isnull=False)
                | (~Q(kind="givenback") & Q(gives_back__isnull=True)),
                name="movement_gives_back_what_was_lent",
            ),
            models.CheckConstraint(
                condition=~Q(kind="move", quantity__gt=0, reverses__isnull=True) | Q(moved_from__isnull=False),
                name="movement_comes_from_a_place",
            ),
            models.CheckConstraint(
                condition=Q(back_on__isnull=True) | Q(kind="lend", reverses__isnull=True),
                name="movement_back_by_is_of_a_loan",
            ),
            models.CheckConstraint(
                condition=Q(member__isnull=True) | Q(kind="handout"),
                name="movement_names_a_member_who_has_them",
            ),
            models.CheckConstraint(condition=~Q(kind="cut") | Q(cut__isnull=False), name="movement_of_a_cut"),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, amount__gte=0) | Q(quantity__lt=0, amount__lte=0),
                name="movement_amount_goes_along",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {format_signed(self.quantity)}"

    @property
    def taken(self) -> int:
        """Pieces that went out of the lot."""
        return max(0, -self.quantity)
