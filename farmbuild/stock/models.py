"""What lies in the yard: places, lots, and the movements that alone change a lot."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from farmbuild.catalogue.models import MOST, Material, Supplier, check_length
from farmbuild.common.fields import LengthField
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
    """Equal things in one place. ``on_hand`` is the sum of the lot's movements, kept by stock.services alone."""

    reference = models.CharField(max_length=40)
    material = models.ForeignKey(Material, models.PROTECT, related_name="lots")
    length = LengthField("length of one piece", null=True, blank=True, help_text="Leave empty for counted things.")
    offcut = models.BooleanField("offcut: no swaged end left", default=False)
    place = models.ForeignKey(Place, models.PROTECT, related_name="lots")
    supplier = models.ForeignKey(Supplier, models.SET_NULL, null=True, blank=True, related_name="lots")
    unit_cost = models.DecimalField(
        "cost of one piece",
        max_digits=14,
        decimal_places=4,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
    )
    received_on = models.DateField("received on")
    on_hand = models.PositiveIntegerField(default=0, editable=False, validators=[MaxValueValidator(MOST)])

    class Meta:
        ordering = ["material__name", "material__code", "length", "reference"]
        indexes = [
            # The list of lots in its order, a page at a time.
            models.Index(fields=["organisation", "material", "length", "reference"], name="lot_in_order"),
            # Sums by length: everything they need stands in the index.
            models.Index(
                fields=["organisation", "material", "offcut", "length", "on_hand", "unit_cost"], name="lot_sums"
            ),
        ]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "reference"], name="lot_reference_once_an_organisation"),
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="lot_on_hand_not_negative"),
            models.CheckConstraint(condition=Q(length__isnull=True) | Q(length__gt=0), name="lot_length_positive"),
            models.CheckConstraint(condition=Q(unit_cost__gte=0), name="lot_cost_not_negative"),
        ]

    def __str__(self) -> str:
        return self.reference

    def clean(self) -> None:
        if self.material_id:
            check_length(self.material, self.length)


class LotNumbers(models.Model):
    """The last number given to a lot of the organisation; its row is locked while a number is taken."""

    organisation = models.OneToOneField(Organisation, models.CASCADE, primary_key=True, related_name="+")
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "lot numbers"

    def __str__(self) -> str:
        return f"L-{self.last:04d}"


class Movement(models.Model):
    """One change of one lot: how many, when, who and why. Never edited; a wrong one is reversed by another."""

    class Kind(models.TextChoices):
        RECEIVE = "receive", "Received"
        COUNT = "count", "Count adjustment"
        SCRAP = "scrap", "Scrapped"
        ISSUE = "issue", "Issued"
        RETURN = "return", "Returned"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=10, choices=Kind)
    quantity = models.IntegerField(help_text="Above zero: into the lot. Below: out of it.")
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(quantity=0), name="movement_moves_something")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.quantity:+d}"


class ImportDraft(OrgOwned):
    """A file that one person sent and has not confirmed yet. Nothing of it is in stock."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    filename = models.CharField(max_length=200)
    made_at = models.DateTimeField(auto_now_add=True)
    rows = models.PositiveIntegerField()
    bad_rows = models.PositiveIntegerField()

    def __str__(self) -> str:
        return self.filename


class ImportPart(models.Model):
    """Some rows of a draft as understood, one page of the preview. The bad ones stand in parts of their own too."""

    draft = models.ForeignKey(ImportDraft, models.CASCADE, related_name="parts")
    bad = models.BooleanField()
    number = models.PositiveIntegerField()
    rows = models.JSONField()

    class Meta:
        ordering = ["bad", "number"]
        constraints = [models.UniqueConstraint(fields=["draft", "bad", "number"], name="import_part_once_a_draft")]

    def __str__(self) -> str:
        return f"{self.draft}, part {self.number}"
