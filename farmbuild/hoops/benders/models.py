"""Benders: each makes one centreline radius."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthField
from farmbuild.orgs.models import OrgOwned


class Bender(OrgOwned):
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    rated_radius = LengthField(
        "rated radius to the centreline", small=True, help_text="What its maker says. Trial hoops tell what it does."
    )
    rated_span = LengthField("rated house span", help_text="The span it is sold for.")
    tubes = models.ManyToManyField(
        Material, blank=True, related_name="benders", limit_choices_to={"kind": "tube"}, verbose_name="tubes it fits"
    )
    owner = models.CharField(max_length=120, blank=True, help_text="Who it belongs to, when it is not yours.")
    kept_at = models.CharField("where it is", max_length=120, blank=True)
    note = models.TextField(blank=True)
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="bender_slug_once_an_organisation"),
            models.CheckConstraint(condition=Q(rated_radius__gt=0, rated_span__gt=0), name="bender_sizes_positive"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("hoops:bender", args=[self.slug])
