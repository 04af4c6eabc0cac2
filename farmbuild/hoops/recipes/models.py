"""Recipes: sticks, marks and radius of one hoop."""

from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthField
from farmbuild.hoops.recipes import fields
from farmbuild.measure.usual import LEVER
from farmbuild.orgs.models import OrgOwned


class Recipe(OrgOwned):
    """Sticks, marks and radius of one hoop: the fields of planning.house.fields, where labels and limits stand."""

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    tube = models.ForeignKey(Material, models.PROTECT, related_name="recipes", limit_choices_to={"kind": "tube"})
    stick_length = LengthField(help_text=fields.RECIPE_BY_NAME["stick_length"].help)
    sticks = fields.count("sticks")
    joint = fields.choice("joint")
    insertion = fields.length("insertion")
    sleeve_material = fields.material("sleeve_material")
    sleeve_length = fields.length("sleeve_length")
    sleeve_screws = fields.count("sleeve_screws")
    radius = fields.length("radius")
    first_mark = fields.length("first_mark")
    pitch = fields.length("pitch")
    stop_gap = fields.length("stop_gap")
    bender = models.ForeignKey(
        "Bender",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="recipes",
        help_text=gettext_lazy("The bender it is bent on."),
    )
    lever_length = LengthField(
        gettext_lazy("lever bar below this much free pipe"),
        small=True,
        usual=LEVER,
        help_text=gettext_lazy("With less pipe than this to pull on, slide a lever bar over the plain end."),
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
