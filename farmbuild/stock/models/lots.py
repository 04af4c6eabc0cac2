"""Places and lots."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from farmbuild.catalogue.models import MAX_QUANTITY, Material, Supplier, check_length, check_longest
from farmbuild.common.fields import LengthField, ThousandthsField
from farmbuild.orgs.models import Organisation, OrgOwned
from farmbuild.sites.models import Site


class Place(OrgOwned):
    """A rack, shed or corner of a yard."""

    name = models.CharField(max_length=80)
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="places")

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "name"], name="place_name_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name


class Lot(OrgOwned):
    """Equal things in one place. ``on_hand`` is the sum of the lot's movements, kept by stock.services alone.

    ``reserved`` of them are held for houses: the sum of the lot's reservations, kept by a trigger. ``promised`` of them
    are kept for members who wish for them, by whoever keeps account of that. ``value`` is what those on hand cost: the
    sum of the amounts of movements and repricings, kept by a trigger. Pieces go out at ``basis_value`` for
    ``basis_pieces``, or at ``unit_cost`` while that is 0 (``stock.costing``).

    ``owner``: the member of a cooperative whose pieces they are, None for the organisation's own; it stays (a guard).
    What is a member's is worth nothing in the books of the organisation: no cost and no value, so that no sum has it.
    """

    reference = models.CharField(max_length=40)
    material = models.ForeignKey(Material, models.PROTECT, related_name="lots")
    length = LengthField("length of one piece", null=True, blank=True, help_text="Leave empty for counted things.")
    offcut = models.BooleanField("offcut: no swaged end left", default=False)
    place = models.ForeignKey(Place, models.PROTECT, related_name="lots")
    supplier = models.ForeignKey(Supplier, models.SET_NULL, null=True, blank=True, related_name="lots")
    owner = models.ForeignKey("crew.Member", models.PROTECT, null=True, blank=True, related_name="lots")
    unit_cost = models.DecimalField(
        "cost of one piece",
        max_digits=14,
        decimal_places=4,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
    )
    received_on = models.DateField("received on")
    on_hand = models.PositiveIntegerField(default=0, editable=False, validators=[MaxValueValidator(MAX_QUANTITY)])
    reserved = models.PositiveIntegerField(default=0, editable=False)
    promised = models.PositiveIntegerField(default=0, editable=False)
    value = ThousandthsField(default=Decimal(0), editable=False)
    basis_value = ThousandthsField(default=Decimal(0), editable=False)
    basis_pieces = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["material__name", "material__code", "length", "reference"]
        indexes = [
            # The list of lots in its order, a page at a time.
            models.Index(fields=["organisation", "material", "length", "reference"], name="lot_in_order"),
            # Sums by length: everything they need stands in the index.
            models.Index(
                fields=[
                    "organisation",
                    "material",
                    "offcut",
                    "length",
                    "owner",
                    "on_hand",
                    "reserved",
                    "promised",
                    "value",
                ],
                name="lot_sums",
            ),
        ]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "reference"], name="lot_reference_once_an_organisation"),
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="lot_on_hand_not_negative"),
            models.CheckConstraint(condition=Q(length__isnull=True) | Q(length__gt=0), name="lot_length_positive"),
            models.CheckConstraint(condition=Q(unit_cost__gte=0), name="lot_cost_not_negative"),
            models.CheckConstraint(
                condition=Q(reserved__gte=0, reserved__lte=F("on_hand")), name="lot_reserved_is_on_hand"
            ),
            models.CheckConstraint(
                condition=Q(promised__gte=0, on_hand__gte=F("reserved") + F("promised")),
                name="lot_promised_is_on_hand",
            ),
            models.CheckConstraint(condition=Q(value__gte=0, basis_value__gte=0), name="lot_value_not_negative"),
            models.CheckConstraint(
                condition=Q(owner__isnull=True) | Q(unit_cost=0, value=0, basis_value=0),
                name="lot_of_a_member_is_worth_nothing_here",
            ),
        ]

    def __str__(self) -> str:
        return self.reference

    @property
    def free(self) -> int:
        """Pieces that nobody holds."""
        return self.on_hand - self.reserved - self.promised

    def clean(self) -> None:
        if self.material_id:
            check_length(self.material, self.length)
            check_longest(self.material, self.length, stored=Lot.objects.filter(pk=self.pk))


class LotNumbers(models.Model):
    """The last number given to a lot of the organisation; its row is locked while a number is taken."""

    organisation = models.OneToOneField(Organisation, models.CASCADE, primary_key=True, related_name="+")
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "lot numbers"

    def __str__(self) -> str:
        return f"L-{self.last:04d}"
