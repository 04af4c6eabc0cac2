"""Who uses the site: organisations, their people, and the base of every row that belongs to one."""

from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any, Self
from uuid import uuid4
from zoneinfo import available_timezones

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.fields import LengthField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.measure.usual import KEEP_FROM, KERF

#: Words that no address of an organisation is.
RESERVED = frozenset({"new"})


class Language(models.TextChoices):
    """Each by its own name, for whoever reads no other."""

    ENGLISH = "en", "English"
    SPANISH = "es", "Español"


class Units(models.TextChoices):
    IMPERIAL = "imperial", gettext_lazy("Feet and inches")
    METRIC = "metric", gettext_lazy("Metres and millimetres")


class User(AbstractUser):
    """Someone who signs in. A visitor reaches the pages named in ``visitors.py`` alone, whatever else is set."""

    visitor = models.BooleanField(default=False, editable=False)
    #: "" goes by the organisation, as does ``units``.
    language = models.CharField(max_length=5, choices=Language, blank=True)
    units = models.CharField(max_length=8, choices=Units, blank=True)
    large_letters = models.BooleanField(default=False)

    @property
    def display_name(self) -> str:
        """Their name, or what they sign in as where none is given."""
        return self.get_full_name() or self.get_username()


class Organisation(models.Model):
    """A farm, a cooperative or a contractor; everything else belongs to exactly one."""

    Units = Units

    class DecimalSign(models.TextChoices):
        POINT = ".", gettext_lazy("A point: 1234.56")
        COMMA = ",", gettext_lazy("A comma: 1234,56")

    name = models.CharField(max_length=120)
    #: In every address of it, so it stays when the name changes.
    slug = models.SlugField(unique=True)
    #: ISO 3166-1, one of ``countries.py``; it proposes what follows and rules nothing.
    country = models.CharField(max_length=2, blank=True)
    decimal_sign = models.CharField(max_length=1, choices=DecimalSign, default=DecimalSign.POINT)
    #: Of its people who chose none, and of all that several read; "": what the browser of each asks for.
    language = models.CharField(max_length=5, choices=Language, blank=True)
    unit_system = models.CharField("units", max_length=8, choices=Units, default=Units.IMPERIAL)
    currency = models.CharField(
        max_length=3,
        default="USD",
        validators=[
            RegexValidator(r"^[A-Z]{3}$", gettext_lazy("Type the three-letter code of the currency, for example USD."))
        ],
    )
    address = models.TextField(blank=True)
    contact = models.CharField(max_length=200, blank=True)
    tax_name = models.CharField(max_length=40, blank=True)
    tax_percent = models.DecimalField(
        max_digits=6,
        decimal_places=3,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))],
    )
    prices_include_tax = models.BooleanField(default=False)
    #: It gets the tax on what it buys back, so that tax is no cost of goods.
    recovers_tax = models.BooleanField(default=False)
    time_zone = models.CharField(max_length=64, default="UTC")
    #: An order above it, tax and delivery included, is asked for by one person and sent by another; none: by one.
    two_people_above = models.DecimalField(
        max_digits=15, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(Decimal(0))]
    )
    kerf = LengthField(gettext_lazy("saw cut width"), small=True, usual=KERF)
    #: It is the same organisation on whichever server it is; an export of it comes into a server once.
    identity = models.UUIDField(default=uuid4, unique=True, editable=False)
    #: A season made up to look at; its people are nobody.
    invented = models.BooleanField(default=False, editable=False)
    keep_from = LengthField(gettext_lazy("shortest offcut worth keeping"), small=True, usual=KEEP_FROM)

    objects = KeptQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name

    def follow_units(self, before: str) -> None:
        """Saw cut and shortest offcut that are the usual ones of other units become those of these."""
        if before == self.unit_system:
            return
        for name, usual in (("kerf", KERF), ("keep_from", KEEP_FROM)):
            if getattr(self, name) == usual.of(before):
                setattr(self, name, usual.of(self.unit_system))

    def clean(self) -> None:
        if self.slug in RESERVED:
            raise ValidationError(
                {"slug": gettext("%(slug)s is kept for pages of the site. Choose another word.") % {"slug": self.slug}}
            )
        if self.time_zone not in available_timezones():
            message = gettext("%(time_zone)s is not a time zone. Type one as in America/New_York or Europe/Vienna.") % {
                "time_zone": self.time_zone
            }
            raise ValidationError({"time_zone": message})


class Membership(models.Model):
    """A person of an organisation; of several where there are several rows.

    What a role lets do, and ``without`` and ``also``, is read by ``acts.py``.
    """

    class Role(models.TextChoices):
        OWNER = "owner", gettext_lazy("Owner")
        PLANNER = "planner", gettext_lazy("Planner")
        YARD = "yard", gettext_lazy("Yard")
        CREW = "crew", gettext_lazy("Crew")
        LOOKS = "looks", gettext_lazy("Looks only")

    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="memberships")
    user = models.ForeignKey(User, models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=7, choices=Role, default=Role.OWNER)
    #: Acts that an owner took away from the ready set of the role, and those that one added.
    without = models.JSONField(default=list, blank=True)
    also = models.JSONField(default=list, blank=True)
    #: Orders above it, tax and delivery included, wait for a second person; none: no limit.
    send_limit = models.DecimalField(
        max_digits=15, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(Decimal(0))]
    )
    #: When this person last came here from another of their organisations.
    used_at = models.DateTimeField(null=True, editable=False)

    objects = KeptQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["organisation", "user"], name="membership_once")]

    def __str__(self) -> str:
        return f"{self.user} in {self.organisation}"


class OrgOwnedQuerySet(KeptQuerySet):
    def of(self, organisation: Organisation) -> Self:
        """Only this organisation's rows."""
        return self.filter(organisation=organisation)


class OrgOwned(models.Model):
    """A row that belongs to one organisation."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+", editable=False)

    objects = OrgOwnedQuerySet.as_manager()

    if TYPE_CHECKING:
        organisation_id: int

    class Meta:
        abstract = True

    def _get_FIELD_display(self, field: models.Field) -> str | None:
        """As Django's, which puts the choices of the field together anew for every row."""
        value = getattr(self, field.attname)
        said = _words_of_choices(field).get(value, value)
        return said if said is None else str(said)


@cache
def _words_of_choices(field: models.Field) -> dict[Any, Any]:
    return dict(field.flatchoices)
