"""What can be bought and from whom."""

from decimal import Decimal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.fields import LengthField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.measure import ByUnits, UnitSystem
from farmbuild.measure.limits import MAX_LEAD_DAYS
from farmbuild.measure.speech import gettext_noop
from farmbuild.measure.usual import LONGEST_STICK, longer_than_any
from farmbuild.orgs.models import OrgOwned

BY_LENGTH = ("tube", "lumber", "film", "channel")
#: The largest count that any field holds; what a database integer holds is larger.
MAX_QUANTITY = 999_999_999
_LENGTH = ByUnits("10'", "6 m")

CODE_HELP = ByUnits(
    gettext_noop("Short name without spaces, for example rail-1-3-8."),
    gettext_noop("Short name without spaces, for example tube-33-7."),
)
YIELD_HELP = ByUnits(
    gettext_noop("Tube: from the maker or the standard. 1 ksi is 6.895 MPa, so 50 ksi is 345."),
    gettext_noop("Tube: from the maker or the standard, for example 235."),
)


def check_length(material: "Material", length: Decimal | None) -> None:
    """Raise ValidationError at ``length`` unless it is there exactly for what is bought by length."""
    if material.by_length and length is None:
        raise ValidationError(
            {
                "length": gettext(
                    "%(material)s comes by length. Type the length of one piece, for example %(example)s."
                )
                % {"material": material, "example": _example(material)}
            }
        )
    if material.by_length and length <= 0:
        raise ValidationError(
            {
                "length": gettext("Type a length longer than zero, for example %(example)s.")
                % {"example": _example(material)}
            }
        )
    if not material.by_length and length is not None:
        raise ValidationError(
            {
                "length": gettext("%(material)s is counted, not measured. Leave the length empty.")
                % {"material": material}
            }
        )


def check_longest(material: "Material", length: Decimal | None, *, stored: models.QuerySet | None = None) -> None:
    """Raise ValidationError at ``length`` where no stick or roll is so long.

    ``stored``: rows in which it may stand already; a limit is checked on what is newly typed.
    """
    # Of the units, which may be a query away, only a refusal tells.
    if length is None or not material.by_length or length <= LONGEST_STICK:
        return
    problem = longer_than_any(material.kind, UnitSystem(material.organisation.unit_system), length)
    if problem and not (stored is not None and stored.filter(length=length).exists()):
        raise ValidationError({"length": problem})


def _example(material: "Material") -> str:
    return _LENGTH.of(material.organisation.unit_system)


class Material(OrgOwned):
    """One thing as a supplier lists it, without its length: 1-3/8 rail, 3/4 conduit, a 2x6 board."""

    class Kind(models.TextChoices):
        TUBE = "tube", gettext_lazy("Tube, pipe, rail or conduit")
        LUMBER = "lumber", gettext_lazy("Lumber")
        FILM = "film", gettext_lazy("Film")
        CHANNEL = "channel", gettext_lazy("Fixing channel")
        FASTENER = "fastener", gettext_lazy("Fastener")
        ANCHOR = "anchor", gettext_lazy("Anchor")
        HARDWARE = "hardware", gettext_lazy("Hardware")

    code = models.SlugField(max_length=60, help_text=CODE_HELP)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind)
    width = LengthField(
        gettext_lazy("width or outside diameter"),
        small=True,
        null=True,
        blank=True,
        help_text=gettext_lazy("Tube: outside diameter. Lumber, film: width."),
    )
    thickness = LengthField(
        gettext_lazy("thickness or wall"),
        small=True,
        null=True,
        blank=True,
        help_text=gettext_lazy("Tube: wall. Lumber, film: thickness."),
    )
    swaged = models.BooleanField(gettext_lazy("one end is swaged"), default=False)
    note = models.CharField(max_length=200, blank=True, help_text=gettext_lazy("Where the sizes come from."))
    #: MPa; None where nobody states it.
    yield_mpa = models.DecimalField(
        "stated yield strength, MPa",
        max_digits=7,
        decimal_places=2,
        null=True,
        blank=True,
        help_text=YIELD_HELP,
    )
    yield_source = models.CharField(
        gettext_lazy("where the yield comes from"),
        max_length=200,
        blank=True,
        help_text=gettext_lazy("The maker's sheet, a standard, a guess."),
    )
    #: None: the organisation's.
    tax_percent = models.DecimalField(
        gettext_lazy("tax on it, percent"),
        max_digits=6,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))],
        help_text=gettext_lazy("Where it differs from the organisation's. Empty: as there."),
    )
    #: What has it keeps it; new houses, recipes and offers are not offered it.
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "code"], name="material_code_once_an_organisation"),
            # True whenever the one above is. The list of lots runs through materials in this order, and a unique
            # index tells the database that what it finds there needs no sorting.
            models.UniqueConstraint(fields=["organisation", "name", "code"], name="material_by_name"),
            models.CheckConstraint(
                condition=~Q(kind="tube")
                | Q(width__isnull=True)
                | Q(thickness__isnull=True)
                | Q(thickness__gt=0, width__gt=F("thickness") * 2),
                name="material_wall_fits_the_tube",
            ),
            models.CheckConstraint(
                condition=Q(yield_mpa__isnull=True) | Q(yield_mpa__gt=0), name="material_yield_positive"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def by_length(self) -> bool:
        return self.kind in BY_LENGTH


class Supplier(OrgOwned):
    code = models.SlugField(
        max_length=60, help_text=gettext_lazy("Short name without spaces, for example hilltop-pipe.")
    )
    name = models.CharField(max_length=120)
    contact = models.CharField(max_length=200, blank=True)
    address = models.TextField(blank=True)
    delivery_charge = models.DecimalField(
        max_digits=12, decimal_places=3, default=Decimal(0), validators=[MinValueValidator(Decimal(0))]
    )
    free_delivery_from = models.DecimalField(
        "delivery is free from",
        max_digits=12,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0))],
    )
    minimum_order = models.DecimalField(
        max_digits=12, decimal_places=3, default=Decimal(0), validators=[MinValueValidator(Decimal(0))]
    )

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "code"], name="supplier_code_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name


class Offer(OrgOwned):
    """A supplier's price for one material in one length, sold in whole packs."""

    supplier = models.ForeignKey(Supplier, models.CASCADE, related_name="offers")
    material = models.ForeignKey(Material, models.CASCADE, related_name="offers")
    length = LengthField(
        gettext_lazy("length of one piece"),
        null=True,
        blank=True,
        help_text=gettext_lazy("Leave empty for counted things."),
    )
    pack = models.PositiveIntegerField(
        gettext_lazy("pieces in a pack"), default=1, validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)]
    )
    #: None: the supplier has not said; a stored 0 was stated.
    lead_days = models.PositiveSmallIntegerField(
        gettext_lazy("days from order to delivery"),
        null=True,
        blank=True,
        validators=[MaxValueValidator(MAX_LEAD_DAYS)],
    )
    valid_until = models.DateField(null=True, blank=True)
    supplier_code = models.CharField(gettext_lazy("supplier's own item number"), max_length=60, blank=True)
    #: By which next year's list of the supplier finds it where that has no item numbers.
    listed_as = models.CharField(gettext_lazy("what the supplier calls it"), max_length=200, blank=True)
    #: Its key where it was made, by which stored plans and quotes name it; none: it was made here.
    made_as = models.BigIntegerField(null=True, editable=False)

    class Meta:
        ordering = ["material__name", "length", "supplier__name", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(pack__gte=1), name="offer_pack_at_least_one"),
            models.CheckConstraint(condition=Q(length__isnull=True) | Q(length__gt=0), name="offer_length_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.material} from {self.supplier}"

    @property
    def ref(self) -> str:
        """What plans call it, on every server to which it comes."""
        return f"offer-{self.made_as or self.pk}"

    def clean(self) -> None:
        if self.material_id:
            check_length(self.material, self.length)
            check_longest(self.material, self.length, stored=Offer.objects.filter(pk=self.pk))


class PriceBreak(models.Model):
    """The price of one piece from so many pieces up; every offer has one from 1."""

    offer = models.ForeignKey(Offer, models.CASCADE, related_name="breaks")
    from_quantity = models.PositiveIntegerField(
        gettext_lazy("from how many pieces"),
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_QUANTITY)],
    )
    unit_price = models.DecimalField(
        "price of one piece", max_digits=14, decimal_places=4, validators=[MinValueValidator(Decimal(0))]
    )

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["offer", "from_quantity"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "from_quantity"], name="price_break_once_a_quantity"),
            models.CheckConstraint(condition=Q(from_quantity__gte=1), name="price_break_from_one"),
            models.CheckConstraint(condition=Q(unit_price__gte=0), name="price_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.unit_price} from {self.from_quantity}"


class OfferRecord(OrgOwned):
    """What an offer said from a day on, until its next record. Never edited.

    The offer is named by its key alone, so that its history outlives it. ``prices``: from how many pieces, and the
    price of one as text.
    """

    class Kind(models.TextChoices):
        BEFORE = "before", gettext_lazy("there before prices were kept")
        TYPED = "typed", gettext_lazy("typed")
        LIST = "list", gettext_lazy("from a list")
        REMOVED = "removed", gettext_lazy("offer removed")

    kind = models.CharField(max_length=7, choices=Kind)
    offer_key = models.BigIntegerField(db_index=True)
    supplier = models.ForeignKey(Supplier, models.CASCADE, related_name="offer_records")
    material = models.ForeignKey(Material, models.CASCADE, related_name="offer_records")
    length = LengthField(gettext_lazy("length of one piece"), null=True, blank=True)
    pack = models.PositiveIntegerField(gettext_lazy("pieces in a pack"))
    lead_days = models.PositiveSmallIntegerField(gettext_lazy("days from order to delivery"), null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    supplier_code = models.CharField(gettext_lazy("supplier's own item number"), max_length=60, blank=True)
    listed_as = models.CharField(gettext_lazy("what the supplier calls it"), max_length=200, blank=True)
    prices = models.JSONField()
    #: Its own: the organisation may change its currency while nothing is priced in it.
    currency = models.CharField(max_length=3)
    since = models.DateField(gettext_lazy("holds from"))
    at = models.DateTimeField(gettext_lazy("recorded at"), auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.material} from {self.supplier} since {self.since}"

    @property
    def breaks(self) -> list[tuple[int, Decimal]]:
        return [(amount, Decimal(price)) for amount, price in self.prices]

    @property
    def price(self) -> Decimal:
        """Of one piece, from 1 up."""
        return self.breaks[0][1]


class PriceList(OrgOwned):
    """A supplier's list as it was sent, between its reading and its taking over, and what it changed.

    ``sheets``: name and rows of each, cells as they stood. ``said``: what the person said of columns and of the
    whole list. ``choices``: by number of the row, the short name of a material, or a mark that leaves it out.
    """

    supplier = models.ForeignKey(Supplier, models.CASCADE, related_name="price_lists")
    filename = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    sheets = models.JSONField()
    said = models.JSONField(default=dict)
    choices = models.JSONField(default=dict)
    read_at = models.DateTimeField(auto_now_add=True)
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", editable=False)
    taken_at = models.DateTimeField(null=True, editable=False)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    since = models.DateField(gettext_lazy("holds from"), null=True)
    #: Rows as they are shown, kept as they were when it was taken over.
    changes = models.JSONField(default=list)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.filename
