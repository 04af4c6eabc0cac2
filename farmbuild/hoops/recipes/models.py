"""Recipes: sticks, marks and radius of one hoop."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthField
from farmbuild.orgs.models import OrgOwned


class Recipe(OrgOwned):
    """Sticks, marks and radius of one hoop."""

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    tube = models.ForeignKey(Material, models.PROTECT, related_name="recipes", limit_choices_to={"kind": "tube"})
    stick_length = LengthField(help_text="One full stick as bought, swaged end included.")
    sticks = models.PositiveSmallIntegerField(
        "sticks in one hoop", default=2, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    insertion = LengthField(
        "insertion at each joint",
        small=True,
        default=Decimal(0),
        help_text="How far the swaged end slides in.",
    )
    radius = LengthField("bend radius to the centreline", small=True, help_text="The one radius that the bender makes.")
    first_mark = LengthField("first mark from the swaged end", small=True, default=Decimal("228.6"))
    pitch = LengthField("distance between marks", small=True, default=Decimal("457.2"))
    stop_gap = LengthField(
        "stop short of flat by",
        small=True,
        default=Decimal("25.4"),
        help_text="Stopping short guards against over-bending.",
    )
    bender = models.ForeignKey(
        "Bender", models.PROTECT, null=True, blank=True, related_name="recipes", help_text="The bender it is bent on."
    )
    lever_length = LengthField(
        "lever bar below this much free pipe",
        small=True,
        default=Decimal("914.4"),
        help_text="With less pipe than this to pull on, slide a lever bar over the plain end.",
    )
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="recipe_slug_once_an_organisation"),
            models.CheckConstraint(
                condition=Q(stick_length__gt=0, radius__gt=0, pitch__gt=0, sticks__gte=1),
                name="recipe_sizes_positive",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("hoops:recipe", args=[self.slug])
