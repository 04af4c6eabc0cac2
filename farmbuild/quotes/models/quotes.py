"""What a job is offered at: rates, options with their houses, and the lines that each is reckoned of."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.models import Material, Offer
from farmbuild.common.fields import LengthField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import Organisation, OrgOwned
from farmbuild.quotes.models.columns import at_least_nothing, moment, percent, price, who
from farmbuild.quotes.models.jobs import Job
from farmbuild.sites.models import House

#: Options of one quote.
MAX_OPTIONS = 10
_UNDER_100 = MaxValueValidator(
    Decimal("99.999"), gettext_lazy("A margin is a part of the price: type 0 or more, and less than 100.")
)
_RATES_IN_RANGE = Q(
    labour__gte=0,
    overhead__gte=0,
    bender_day__gte=0,
    trip__gte=0,
    contingency__gte=0,
    margin__gte=0,
    margin__lt=100,
    waste__gte=0,
    tax_materials__gte=0,
    tax_work__gte=0,
    tax_equipment__gte=0,
)


class RateFields(models.Model):
    """What quotes are reckoned with; money an hour, a day or a trip, in the organisation's currency."""

    class Yard(models.TextChoices):
        IGNORED = "ignored", gettext_lazy("Left out: all of it is reckoned as bought new")
        REPLACED = "replaced", gettext_lazy("Used, and charged at what it costs to replace")

    labour = price(gettext_lazy("labour, an hour"), gettext_lazy("Wages with all that goes with them."))
    overhead = price(
        gettext_lazy("overhead, an hour"),
        gettext_lazy("Office, insurance and the like, spread over the hours of work."),
    )
    bender_day = price(gettext_lazy("bender, a day"))
    trip = price("trip", gettext_lazy("There and back once."))
    people = models.PositiveSmallIntegerField(
        gettext_lazy("people on a trip"), default=2, validators=[MinValueValidator(1), MaxValueValidator(50)]
    )
    day_hours = models.DecimalField(
        gettext_lazy("hours of a working day"),
        max_digits=4,
        decimal_places=2,
        default=Decimal(8),
        validators=[
            MinValueValidator(Decimal("0.5"), gettext_lazy("Type half an hour or more.")),
            MaxValueValidator(Decimal(24), gettext_lazy("A day has 24 hours.")),
        ],
    )
    contingency = percent(
        gettext_lazy("contingency, percent"), gettext_lazy("For what nobody foresees, on each kind of cost.")
    )
    margin = percent(
        gettext_lazy("margin, percent of the price"),
        gettext_lazy("A part of the price, not of the cost."),
        most=[_UNDER_100],
    )
    waste = percent(
        gettext_lazy("waste, percent"), gettext_lazy("Sticks of hoops that are spoilt, rounded up to whole ones.")
    )
    tax_materials = percent(gettext_lazy("tax on materials, percent"))
    tax_work = percent(gettext_lazy("tax on work, percent"))
    tax_equipment = percent(gettext_lazy("tax on equipment and trips, percent"))
    valid_days = models.PositiveSmallIntegerField(
        gettext_lazy("days that a quote holds"), default=30, validators=[MinValueValidator(1), MaxValueValidator(366)]
    )
    yard = models.CharField(gettext_lazy("what lies in the yard"), max_length=8, choices=Yard, default=Yard.IGNORED)
    exclusions = models.TextField(gettext_lazy("what is not in the price"), blank=True)

    class Meta:
        abstract = True


class QuoteRates(RateFields):
    """What new quotes of an organisation begin with."""

    organisation = models.OneToOneField(Organisation, models.CASCADE, primary_key=True, related_name="quote_rates")

    objects = KeptQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "quote rates"
        constraints = [
            models.CheckConstraint(condition=_RATES_IN_RANGE, name="quote_rates_in_range"),
            models.CheckConstraint(condition=Q(people__gte=1, day_hours__gt=0), name="quote_rates_of_somebody"),
        ]

    def __str__(self) -> str:
        return gettext("Rates of quotes")


class Quote(OrgOwned, RateFields):
    """``number`` counts from 1 in each organisation and is written Q-0001. Its rates are its own."""

    number = models.PositiveIntegerField(editable=False)
    job = models.ForeignKey(Job, models.PROTECT, related_name="quotes")
    currency = models.CharField(max_length=3, editable=False)
    note = models.TextField(gettext_lazy("note to the customer"), blank=True)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = who()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="quote_number_once_an_organisation"),
            models.CheckConstraint(condition=Q(number__gte=1), name="quote_numbers_begin_with_1"),
            models.CheckConstraint(condition=_RATES_IN_RANGE, name="rates_of_a_quote_in_range"),
            models.CheckConstraint(condition=Q(people__gte=1, day_hours__gt=0), name="rates_of_a_quote_of_somebody"),
        ]

    def __str__(self) -> str:
        return self.reference

    @property
    def reference(self) -> str:
        return f"Q-{self.number:04}"


class Option(OrgOwned):
    """One way to build it, with a price of its own."""

    quote = models.ForeignKey(Quote, models.CASCADE, related_name="options")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    #: That it was made from.
    based_on = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, related_name="+", editable=False)
    #: When its lines were last worked out of its houses; None: all of them are typed.
    priced_at = moment()
    #: What could not be priced then, and what to do: {"what": …, "do": …}.
    unpriced = models.JSONField(default=list, blank=True, editable=False)

    class Meta:
        ordering = ["quote", "position"]
        constraints = [
            models.UniqueConstraint(fields=["quote", "position"], name="option_position_once_a_quote"),
            models.UniqueConstraint(fields=["quote", "name"], name="option_name_once_a_quote"),
            models.CheckConstraint(
                condition=Q(position__gte=1, position__lte=MAX_OPTIONS), name="option_position_in_range"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def not_priced(self) -> list[dict[str, str]]:
        """Of ``unpriced`` what no line that somebody added stands for; lines come with their materials."""
        lines = [line for line in self.lines.all() if not line.key]
        added = {str(name).casefold() for line in lines for name in (line.what, line.material) if name}
        return [row for row in self.unpriced if row["what"].casefold() not in added]


class OptionHouse(OrgOwned):
    """A house as an option has it; no house of a site before the quote is accepted.

    ``spec``: columns of a house by name, materials by code, the recipe by slug, lengths in millimetres as text;
    ``own_rows``: the rows that it takes besides, in the same way.
    """

    option = models.ForeignKey(Option, models.CASCADE, related_name="houses")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    quantity = models.PositiveSmallIntegerField(
        gettext_lazy("how many"),
        default=1,
        validators=[MinValueValidator(1, gettext_lazy("Type 1 or more.")), MaxValueValidator(200)],
    )
    spec = models.JSONField(editable=False)
    own_rows = models.JSONField(default=list, editable=False)
    source_house = models.ForeignKey(House, models.SET_NULL, null=True, blank=True, related_name="+", editable=False)
    starter = models.CharField(max_length=60, blank=True, editable=False)

    class Meta:
        ordering = ["option", "position"]
        constraints = [
            models.UniqueConstraint(fields=["option", "position"], name="option_house_position_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="option_house_at_least_once"),
        ]

    def __str__(self) -> str:
        return self.name


class QuoteLine(OrgOwned):
    """A line of cost of an option. ``typed_at``: somebody typed it, or changed what was worked out.

    ``price`` of hours is None: they cost the rates of the quote. ``worked_quantity``, ``worked_price``: what was
    worked out, None of a line that was added by hand.
    """

    class Kind(models.TextChoices):
        GOODS = "goods", gettext_lazy("Materials")
        CHARGE = "charge", gettext_lazy("Delivery and charges")
        HOURS = "hours", gettext_lazy("Work")
        EQUIPMENT = "equipment", gettext_lazy("Equipment")
        TRIP = "trip", gettext_lazy("Trips")

    option = models.ForeignKey(Option, models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=9, choices=Kind)
    #: By which a line that was worked out is found again: one an option; empty of one that was added.
    key = models.CharField(max_length=120, blank=True, editable=False)
    what = models.CharField(max_length=240)
    material = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    length = LengthField(null=True, blank=True, editable=False)
    #: Kind of work (``crew.Kind``), of hours.
    step = models.CharField(max_length=12, blank=True, editable=False)
    quantity = models.DecimalField(max_digits=11, decimal_places=3, validators=[at_least_nothing()])
    price = models.DecimalField(
        "price of one", max_digits=14, decimal_places=4, null=True, blank=True, validators=[at_least_nothing()]
    )
    #: Where the price comes from, in words.
    source = models.CharField(gettext_lazy("where the price comes from"), max_length=200, blank=True)
    offer = models.ForeignKey(Offer, models.SET_NULL, null=True, blank=True, related_name="+", editable=False)
    worked_quantity = models.DecimalField(max_digits=11, decimal_places=3, null=True, blank=True, editable=False)
    worked_price = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True, editable=False)
    #: Pieces of packs that are bought beyond what is used; they go to stock and are not charged.
    to_stock = models.PositiveIntegerField(default=0, editable=False)
    typed_at = moment()
    typed_by = who()
    left_out = models.BooleanField(gettext_lazy("left out of the price"), default=False)

    class Meta:
        ordering = ["option", "position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["option", "key"], condition=~Q(key=""), name="quote_line_once_an_option"),
            models.CheckConstraint(
                condition=Q(quantity__gte=0) & (Q(price__isnull=True) | Q(price__gte=0)),
                name="quote_line_not_below_nothing",
            ),
            models.CheckConstraint(
                condition=Q(kind="hours", price__isnull=True) | (~Q(kind="hours") & Q(price__isnull=False)),
                name="quote_line_priced_but_hours",
            ),
            models.CheckConstraint(
                condition=~Q(key="") | Q(typed_at__isnull=False), name="quote_line_typed_or_worked_out"
            ),
        ]

    def __str__(self) -> str:
        return self.what
