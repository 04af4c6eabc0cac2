"""Benders: each makes one centreline radius."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthField
from farmbuild.measure import ByUnits
from farmbuild.orgs.models import OrgOwned

#: In one hoop, as in a recipe.
MOST_STICKS = 12
#: Between two services: ten years.
MOST_MONTHS = 120


class Bender(OrgOwned):
    class Way(models.TextChoices):
        LABEL = "label", "The span that it says"
        HOOP = "hoop", "A hoop that was bent on it and measured"
        RADIUS = "radius", "The radius that its maker states"

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    rated_radius = LengthField(
        "rated radius to the centreline", small=True, help_text="What its maker says. Trial hoops tell what it does."
    )
    rated_span = LengthField("rated house span", help_text="The span it is sold for.")
    #: From what the rated radius was worked out, and the sizes of that way.
    way = models.CharField(
        "what you know of it", max_length=10, choices=Way, default=Way.RADIUS, help_text="The radius follows from it."
    )
    label_sticks = models.PositiveSmallIntegerField(
        "sticks in one hoop", null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MOST_STICKS)]
    )
    label_stick_length = LengthField("length of one stick", null=True, blank=True)
    label_insertion = LengthField(
        "insertion at each joint", small=True, null=True, blank=True, help_text="How far the swaged end slides in."
    )
    bent_span = LengthField(
        "free span", null=True, blank=True, help_text="Between the hoop's ends, the hoop lying flat and free."
    )
    bent_rise = LengthField(
        "rise", null=True, blank=True, help_text="From the line through the ends to the centre of the crown."
    )
    tubes = models.ManyToManyField(
        Material, blank=True, related_name="benders", limit_choices_to={"kind": "tube"}, verbose_name="tubes it fits"
    )
    owner = models.CharField(max_length=120, blank=True, help_text="Who it belongs to, when it is not yours.")
    kept_at = models.CharField("where it is", max_length=120, blank=True)
    note = models.TextField(blank=True)
    #: A service is due after so many pulls or months, whichever comes first; never where neither is said.
    service_pulls = models.PositiveIntegerField(
        "service every so many pulls", null=True, blank=True, validators=[MinValueValidator(1)]
    )
    service_months = models.PositiveSmallIntegerField(
        "service every so many months",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_MONTHS)],
    )
    earlier_pulls = models.PositiveIntegerField(
        "pulls before they were counted here", null=True, blank=True, help_text="A guess will do. Empty: none."
    )
    drift_limit = LengthField(
        "its radius may change by",
        small=True,
        null=True,
        blank=True,
        help_text=ByUnits('Empty: 1", common practice, no source.', "Empty: 25 mm, common practice, no source."),
    )
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="bender_slug_once_an_organisation"),
            models.CheckConstraint(condition=Q(rated_radius__gt=0, rated_span__gt=0), name="bender_sizes_positive"),
            models.CheckConstraint(
                condition=(Q(service_pulls__isnull=True) | Q(service_pulls__gte=1))
                & (Q(service_months__isnull=True) | Q(service_months__gte=1))
                & (Q(drift_limit__isnull=True) | Q(drift_limit__gt=0)),
                name="bender_service_and_limit_above_zero",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("hoops:bender", args=[self.slug])
