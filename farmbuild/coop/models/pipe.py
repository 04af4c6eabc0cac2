"""Pipe that members lend and give each other, and what came of it."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import MAX_QUANTITY, Material
from farmbuild.common.fields import LengthField
from farmbuild.crew.models import Member
from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet
from farmbuild.stock.models import Lot, Movement


def _who() -> models.ForeignKey:
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )


def _pieces(*args: str) -> models.PositiveIntegerField:
    return models.PositiveIntegerField(*args, validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)])


class PostedQuerySet(OrgOwnedQuerySet):
    def net(self) -> "PostedQuerySet":
        """Without what was taken back."""
        return self.filter(back_at=None)


class Posted(OrgOwned):
    """Never edited; taken back once, with a reason."""

    day = models.DateField()
    at = models.DateTimeField(auto_now_add=True)
    by = _who()
    back_at = models.DateTimeField(null=True, blank=True, editable=False)
    back_by = _who()
    back_because = models.CharField(gettext_lazy("why it is taken back"), max_length=200, blank=True, editable=False)

    objects = PostedQuerySet.as_manager()

    class Meta:
        abstract = True


class PipeLoan(Posted):
    """Equal pieces that one member lends another, or gives it.

    ``lot``: the lender's in the common yard that they came from, with the ``movement`` out of it; None: from its own
    yard, which is not recorded here. ``agreed_at``: when the other of the two, or the manager, said that it is so; a
    loan that one of them recorded alone counts for nothing until then. ``price``: of one piece, where it was given for
    money; 0 is a present.
    """

    class Kind(models.TextChoices):
        LENT = "lent", gettext_lazy("Lent")
        GIVEN = "given", gettext_lazy("Given")

    kind = models.CharField(max_length=5, choices=Kind)
    lender = models.ForeignKey(Member, models.PROTECT, related_name="pipe_lent")
    borrower = models.ForeignKey(Member, models.PROTECT, related_name="pipe_borrowed")
    material = models.ForeignKey(Material, models.PROTECT, related_name="+")
    length = LengthField(gettext_lazy("length of one piece"), null=True, blank=True)
    quantity = _pieces("pieces")
    price = models.DecimalField(
        gettext_lazy("price of one piece"),
        max_digits=14,
        decimal_places=4,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
    )
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="+")
    movement = models.OneToOneField(Movement, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    back_until = models.DateField(gettext_lazy("back by"), null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    asked_of = models.ForeignKey(Member, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    agreed_at = models.DateTimeField(null=True, blank=True, editable=False)
    agreed_by = _who()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(lender=F("borrower")), name="pipe_between_two"),
            models.CheckConstraint(condition=Q(quantity__gt=0, price__gte=0), name="pipe_is_something"),
            models.CheckConstraint(condition=Q(kind="given") | Q(price=0), name="pipe_lent_has_no_price"),
            models.CheckConstraint(
                condition=Q(back_at__isnull=True) | ~Q(back_because=""), name="pipe_taken_back_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} by {self.lender} to {self.borrower}"


class PipeReturn(Posted):
    """What settled some of a loan: pieces that came back, others that came for them, or money at a price agreed then.

    ``quantity`` pieces of the loan are settled by it. In kind: as many came, of which ``damaged`` are told. In other
    pieces: ``came`` of ``material`` and ``length`` came for them; with ``price`` of one that was lent and
    ``came_price`` of one that came, what is left between the two is owed in money, without both nothing is. For money:
    ``price`` alone.
    """

    loan = models.ForeignKey(PipeLoan, models.PROTECT, related_name="returns")
    quantity = _pieces(gettext_lazy("pieces of the loan that it settles"))
    in_money = models.BooleanField(default=False, editable=False)
    price = models.DecimalField(
        gettext_lazy("price of one piece"),
        max_digits=14,
        decimal_places=4,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
    )
    damaged = models.PositiveIntegerField(gettext_lazy("of them damaged"), default=0)
    came = models.PositiveIntegerField(
        gettext_lazy("other pieces that came"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)],
    )
    material = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    length = LengthField(gettext_lazy("length of one that came"), null=True, blank=True)
    came_price = models.DecimalField(
        gettext_lazy("price of one that came"),
        max_digits=14,
        decimal_places=4,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
    )
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    movement = models.OneToOneField(Movement, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    note = models.CharField(max_length=200, blank=True)
    asked_of = models.ForeignKey(Member, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    agreed_at = models.DateTimeField(null=True, blank=True, editable=False)
    agreed_by = _who()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0, price__gte=0), name="pipe_return_is_something"),
            models.CheckConstraint(
                condition=Q(in_money=True, price__gt=0, damaged=0, came=None, material=None, length=None, came_price=0)
                | Q(in_money=False, price=0, damaged__lte=F("quantity"), came=None, material=None, length=None)
                & Q(came_price=0)
                | Q(in_money=False, came__isnull=False, came__gt=0, damaged__lte=F("came"), material__isnull=False)
                & (Q(price=0, came_price=0) | Q(price__gt=0, came_price__gt=0)),
                name="pipe_return_in_kind_or_money",
            ),
            models.CheckConstraint(
                condition=Q(back_at__isnull=True) | ~Q(back_because=""), name="pipe_return_taken_back_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of loan {self.loan_id}"
