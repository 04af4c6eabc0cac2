"""What lies in the yard: places, lots, and the movements that alone change a lot."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

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


class Cut(OrgOwned):
    """Equal sticks of one lot cut alike, in one go. The lengths are those of one stick, in whole nanometres.

    A stored length has six places of a millimetre, so the whole numbers are exact on every database, and the
    constraint that nothing of a stick is lost can be an equation.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="cuts")
    sticks = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MOST)])
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
    kind with the opposite quantity.
    """

    class Kind(models.TextChoices):
        RECEIVE = "receive", "Received"
        COUNT = "count", "Count adjustment"
        SCRAP = "scrap", "Scrapped"
        ISSUE = "issue", "Issued"
        RETURN = "return", "Returned"
        CUT = "cut", "Cut"
        MOVE = "move", "Moved"
        LEND = "lend", "Lent"
        GIVEN_BACK = "givenback", "Given back"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=10, choices=Kind)
    quantity = models.IntegerField(help_text="Above zero: into the lot. Below: out of it.")
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    reason = models.CharField(max_length=200, blank=True)
    paper = models.CharField(max_length=80, blank=True, help_text="Delivery note, order or sheet that says so.")
    borrower = models.CharField(max_length=120, blank=True)
    house = models.ForeignKey("sites.House", models.PROTECT, null=True, blank=True, related_name="movements")
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversed_by")
    gives_back = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="given_back")
    moved_from = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="moved_to")
    cut = models.ForeignKey(Cut, models.PROTECT, null=True, blank=True, related_name="movements")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(quantity=0), name="movement_moves_something"),
            models.CheckConstraint(
                condition=Q(kind__in=["count", "cut", "move"])
                | Q(reverses__isnull=False)
                | Q(kind__in=["receive", "return", "givenback"], quantity__gt=0)
                | Q(kind__in=["scrap", "issue", "lend"], quantity__lt=0),
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
            models.CheckConstraint(condition=~Q(kind="cut") | Q(cut__isnull=False), name="movement_of_a_cut"),
        ]

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
