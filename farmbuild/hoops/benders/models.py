"""Benders: each makes one centreline radius."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext_lazy, gettext_noop

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
        LABEL = "label", gettext_lazy("The span that it says")
        HOOP = "hoop", gettext_lazy("A hoop that was bent on it and measured")
        RADIUS = "radius", gettext_lazy("The radius that its maker states")

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    rated_radius = LengthField(
        gettext_lazy("rated radius to the centreline"),
        small=True,
        help_text=gettext_lazy("What its maker says. Trial hoops tell what it does."),
    )
    rated_span = LengthField(gettext_lazy("rated house span"), help_text=gettext_lazy("The span it is sold for."))
    #: From what the rated radius was worked out, and the sizes of that way.
    way = models.CharField(
        gettext_lazy("what you know of it"),
        max_length=10,
        choices=Way,
        default=Way.RADIUS,
        help_text=gettext_lazy("The radius follows from it."),
    )
    label_sticks = models.PositiveSmallIntegerField(
        gettext_lazy("sticks in one hoop"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_STICKS)],
    )
    label_stick_length = LengthField(gettext_lazy("length of one stick"), null=True, blank=True)
    label_insertion = LengthField(
        gettext_lazy("insertion at each joint"),
        small=True,
        null=True,
        blank=True,
        help_text=gettext_lazy("How far the swaged end slides in."),
    )
    bent_span = LengthField(
        gettext_lazy("free span"),
        null=True,
        blank=True,
        help_text=gettext_lazy("Between the hoop's ends, the hoop lying flat and free."),
    )
    bent_rise = LengthField(
        gettext_lazy("rise"),
        null=True,
        blank=True,
        help_text=gettext_lazy("From the line through the ends to the centre of the crown."),
    )
    tubes = models.ManyToManyField(
        Material,
        blank=True,
        related_name="benders",
        limit_choices_to={"kind": "tube"},
        verbose_name=gettext_lazy("tubes it fits"),
    )
    owner = models.CharField(
        max_length=120, blank=True, help_text=gettext_lazy("Who it belongs to, when it is not yours.")
    )
    kept_at = models.CharField(gettext_lazy("where it is"), max_length=120, blank=True)
    note = models.TextField(blank=True)
    #: A service is due after so many pulls or months, whichever comes first; never where neither is said.
    service_pulls = models.PositiveIntegerField(
        gettext_lazy("service every so many pulls"), null=True, blank=True, validators=[MinValueValidator(1)]
    )
    service_months = models.PositiveSmallIntegerField(
        gettext_lazy("service every so many months"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_MONTHS)],
    )
    earlier_pulls = models.PositiveIntegerField(
        gettext_lazy("pulls before they were counted here"),
        null=True,
        blank=True,
        help_text=gettext_lazy("A guess will do. Empty: none."),
    )
    drift_limit = LengthField(
        gettext_lazy("its radius may change by"),
        small=True,
        null=True,
        blank=True,
        help_text=ByUnits(
            gettext_noop('Empty: 1", common practice, no source.'),
            gettext_noop("Empty: 25 mm, common practice, no source."),
        ),
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
