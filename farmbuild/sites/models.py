"""Where the houses stand and what each is made of."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthField, LengthListField
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.orgs.models import OrgOwned

NONE = Decimal(0)


def _material(kinds: list[str], label: str) -> models.ForeignKey:
    return models.ForeignKey(
        Material,
        models.PROTECT,
        verbose_name=label,
        null=True,
        blank=True,
        related_name="+",
        limit_choices_to={"kind__in": kinds},
    )


def _count(label: str, most: int, default: int = 0, help_text: str = "") -> models.PositiveSmallIntegerField:
    return models.PositiveSmallIntegerField(
        label, default=default, validators=[MaxValueValidator(most)], help_text=help_text
    )


class Site(OrgOwned):
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="site_slug_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("sites:site", args=[self.slug])


class HouseSpec(models.Model):
    """What one house is made of. Worked and checked by planning.takeoff and planning.checks."""

    post_span = LengthField("post span", help_text="Between ground posts, centre to centre.")
    length = LengthField("house length", help_text="First hoop to last hoop.")
    spacing_wanted = LengthField("hoop spacing wanted", help_text="Hoops are re-spaced evenly, never wider than this.")
    recipe = models.ForeignKey(Recipe, models.PROTECT, verbose_name="hoop recipe", related_name="houses")

    post_material = _material(["tube"], "ground post tube")
    post_length = LengthField("ground post length", small=True, default=NONE, blank=True)
    post_depth = LengthField("ground post depth in the ground", small=True, default=NONE, blank=True)

    purlin_material = _material(["tube"], "purlin tube")
    purlin_stick_length = LengthField("purlin stick length", default=NONE, blank=True)
    purlin_insertion = LengthField("insertion at each purlin joint", small=True, default=NONE, blank=True)
    ridge_purlins = _count("ridge purlins", 1)
    side_purlins = _count("side purlins, both sides together", 12)

    hip_board_material = _material(["lumber"], "hip board size")
    hip_board_rows = _count("hip boards, rows on each side", 4)
    hip_board_lengths = LengthListField(verbose_name="hip board lengths that may be bought")
    base_board_material = _material(["lumber"], "base board size")
    base_board_rows = _count("base boards, rows on each side", 4)
    base_board_lengths = LengthListField(verbose_name="base board lengths that may be bought")

    end_walls = _count("framed end walls", 2)
    end_frame_material = _material(["lumber", "tube"], "end wall frame size")
    end_stud_spacing = LengthField("end wall stud spacing", small=True, default=NONE, blank=True)
    front_door_count = _count("doors in the front end", 4)
    front_door_width = LengthField("front door width", small=True, default=NONE, blank=True)
    front_door_height = LengthField("front door height", small=True, default=NONE, blank=True)
    back_door_count = _count("doors in the back end", 4)
    back_door_width = LengthField("back door width", small=True, default=NONE, blank=True)
    back_door_height = LengthField("back door height", small=True, default=NONE, blank=True)

    brace_material = _material(["tube", "lumber"], "corner brace")
    brace_count = _count("corner braces", 16)
    brace_length = LengthField("corner brace length", small=True, default=NONE, blank=True)

    film_material = _material(["film"], "film")
    film_layers = _count("layers of film", 2)
    film_side_allowance = LengthField("film to spare on each side", small=True, default=NONE, blank=True)
    film_end_allowance = LengthField("film to spare at each end", small=True, default=NONE, blank=True)
    channel_material = _material(["channel"], "fixing channel")
    channel_runs = _count("runs of channel along the house", 8)
    channel_on_ends = models.BooleanField("channel over both end hoops", default=False)

    screw_material = _material(["fastener"], "joint screw")
    screws_per_joint = _count("screws at each joint", 8)
    bolt_material = _material(["fastener"], "board bolt")
    bolts_per_crossing = _count("bolts where a board crosses a hoop", 8)
    anchor_material = _material(["anchor"], "anchor")
    anchor_count = _count("anchors", 1000)

    class Meta:
        abstract = True


class House(OrgOwned, HouseSpec):
    site = models.ForeignKey(Site, models.PROTECT, related_name="houses")
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    need_date = models.DateField("materials needed by")
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)
    #: Counts saves, so that the second of two people who edit at once is told.
    version = models.PositiveIntegerField(default=1, editable=False)
    saved_at = models.DateTimeField(auto_now=True)
    saved_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, editable=False, related_name="+")

    class Meta:
        ordering = ["need_date", "name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="house_slug_once_an_organisation"),
            models.CheckConstraint(
                condition=Q(post_span__gt=0, length__gt=0, spacing_wanted__gt=0), name="house_sizes_positive"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("sites:house", args=[self.slug])
