"""Where the houses stand and what each is made of."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthField
from farmbuild.history.capture import KeptQuerySet
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import ByUnits, format_decimal
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites import fields
from farmbuild.sites.querysets import HouseQuerySet


def _turn(label: str, help_text: str, **more: object) -> models.PositiveSmallIntegerField:
    """Whole degrees clockwise, 0 to 359."""
    return models.PositiveSmallIntegerField(label, help_text=help_text, validators=[MaxValueValidator(359)], **more)


class Site(OrgOwned):
    """Houses are placed on its plan from ``corner_stake``, at its lower left; the base line runs from there along its
    lower edge. ``plan_bearing``: where the top of the plan lies, degrees clockwise from north.
    """

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    corner_stake = models.CharField(
        gettext_lazy("corner stake"),
        max_length=60,
        blank=True,
        help_text=gettext_lazy(
            "The stake at the corner of the site that houses are measured from, for example gate stake."
        ),
    )
    plan_bearing = _turn(
        gettext_lazy("compass bearing across the site"),
        gettext_lazy(
            "Stand at the corner stake with the base line to your right, look across the site and read the compass."
            " North is 0, east 90. Empty: not known."
        ),
        null=True,
        blank=True,
    )
    walkway = LengthField(
        gettext_lazy("walkway between houses"),
        null=True,
        blank=True,
        help_text=ByUnits(
            gettext_lazy("Houses nearer than this are named. Empty: 3'."),
            gettext_lazy("Houses nearer than this are named. Empty: 900 mm."),
        ),
    )
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="site_slug_once_an_organisation"),
            models.CheckConstraint(
                condition=Q(plan_bearing=None) | Q(plan_bearing__lt=360), name="plan_bearing_in_turn"
            ),
            models.CheckConstraint(condition=Q(walkway=None) | Q(walkway__gte=0), name="walkway_not_below_zero"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("sites:site", args=[self.slug])


class HouseSpec(models.Model):
    """What one house is made of: the fields of planning.house.fields, where their labels and limits stand."""

    post_span = fields.length("post_span")
    length = fields.length("length")
    spacing_wanted = fields.length("spacing_wanted")
    recipe = models.ForeignKey(
        Recipe, models.PROTECT, verbose_name=fields.BY_NAME["recipe"].label, related_name="houses"
    )

    post_material = fields.material("post_material")
    post_length = fields.length("post_length")
    post_depth = fields.length("post_depth")
    post_socket_depth = fields.length("post_socket_depth")
    hoop_over_post = fields.flag("hoop_over_post")
    post_stop_material = fields.material("post_stop_material")

    purlin_material = fields.material("purlin_material")
    purlin_stick_length = fields.length("purlin_stick_length")
    purlin_joint = fields.choice("purlin_joint")
    purlin_insertion = fields.length("purlin_insertion")
    purlin_sleeve_material = fields.material("purlin_sleeve_material")
    purlin_sleeve_length = fields.length("purlin_sleeve_length")
    purlin_sleeve_screws = fields.count("purlin_sleeve_screws")
    purlin_first_stick = fields.length("purlin_first_stick")
    ridge_purlins = fields.count("ridge_purlins")
    side_purlins = fields.count("side_purlins")

    hip_board_material = fields.material("hip_board_material")
    hip_board_rows = fields.count("hip_board_rows")
    hip_board_lengths = fields.lengths("hip_board_lengths")
    base_board_material = fields.material("base_board_material")
    base_board_rows = fields.count("base_board_rows")
    base_board_lengths = fields.lengths("base_board_lengths")

    end_walls = fields.count("end_walls")
    end_frame_material = fields.material("end_frame_material")
    end_stud_spacing = fields.length("end_stud_spacing")
    front_door_count = fields.count("front_door_count")
    front_door_width = fields.length("front_door_width")
    front_door_height = fields.length("front_door_height")
    back_door_count = fields.count("back_door_count")
    back_door_width = fields.length("back_door_width")
    back_door_height = fields.length("back_door_height")
    door_clearance = fields.length("door_clearance")
    door_latch_material = fields.material("door_latch_material")

    brace_material = fields.material("brace_material")
    brace_count = fields.count("brace_count")
    brace_length = fields.length("brace_length")

    film_material = fields.material("film_material")
    film_layers = fields.count("film_layers")
    film_side_allowance = fields.length("film_side_allowance")
    film_end_allowance = fields.length("film_end_allowance")
    end_film_allowance = fields.length("end_film_allowance")

    side_closing = fields.choice("side_closing")
    curtain_film_material = fields.material("curtain_film_material")
    curtain_spare = fields.length("curtain_spare")
    curtain_pipe_material = fields.material("curtain_pipe_material")
    curtain_pipe_stick_length = fields.length("curtain_pipe_stick_length")
    curtain_pipe_insertion = fields.length("curtain_pipe_insertion")
    curtain_crank_material = fields.material("curtain_crank_material")
    curtain_guide_material = fields.material("curtain_guide_material")

    channel_material = fields.material("channel_material")
    channel_runs = fields.count("channel_runs")
    channel_on_ends = fields.flag("channel_on_ends")

    screw_material = fields.material("screw_material")
    screws_per_joint = fields.count("screws_per_joint")
    bolt_material = fields.material("bolt_material")
    bolts_per_crossing = fields.count("bolts_per_crossing")

    anchor_material = fields.material("anchor_material")
    anchor_count = fields.count("anchor_count")

    purlin_connector_material = fields.material("purlin_connector_material")
    post_fastener_material = fields.material("post_fastener_material")
    fasteners_per_post = fields.count("fasteners_per_post")
    brace_clamp_material = fields.material("brace_clamp_material")
    end_screw_material = fields.material("end_screw_material")
    end_screws_per_joint = fields.count("end_screws_per_joint")
    hinge_material = fields.material("hinge_material")
    hinges_per_door = fields.count("hinges_per_door")
    door_stop_material = fields.material("door_stop_material")
    door_skin_material = fields.material("door_skin_material")
    wire_material = fields.material("wire_material")
    channel_screw_material = fields.material("channel_screw_material")
    channel_screw_spacing = fields.length("channel_screw_spacing")
    fan_material = fields.material("fan_material")
    hose_material = fields.material("hose_material")
    tape_material = fields.material("tape_material")
    joints_per_roll = fields.count("joints_per_roll")
    anchor_tie_material = fields.material("anchor_tie_material")

    class Meta:
        abstract = True


class House(OrgOwned, HouseSpec):
    site = models.ForeignKey(Site, models.PROTECT, related_name="houses")
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    need_date = models.DateField(gettext_lazy("materials needed by"))
    #: From the corner stake to the front corner post on the right as one walks in; None: not placed.
    along = LengthField(gettext_lazy("along"), null=True, blank=True)
    across = LengthField(gettext_lazy("across"), null=True, blank=True)
    #: 0: the ridge runs along the base line, away from the stake as one walks in.
    ridge_turn = _turn(gettext_lazy("ridge turned, degrees"), "", default=0, blank=True)
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)
    saved_at = models.DateTimeField(auto_now=True)
    saved_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, editable=False, related_name="+")

    objects = HouseQuerySet.as_manager()

    class Meta:
        ordering = ["need_date", "name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="house_slug_once_an_organisation"),
            models.CheckConstraint(
                condition=Q(post_span__gt=0, length__gt=0, spacing_wanted__gt=0), name="house_sizes_positive"
            ),
            models.CheckConstraint(
                # What is compared with nothing is neither true nor false, and would pass.
                condition=Q(along=None, across=None)
                | Q(along__isnull=False, across__isnull=False, along__gte=0, across__gte=0),
                name="house_placed_both_ways",
            ),
            models.CheckConstraint(condition=Q(ridge_turn__lt=360), name="ridge_turn_in_turn"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("sites:house", args=[self.slug])

    #: Rows of its own that were typed and are not stored yet; None: what is stored counts.
    typed_rows: "list[HouseOwnRow] | None" = None

    @property
    def saver(self) -> str:
        """Who saved it last."""
        return self.saved_by.display_name if self.saved_by else gettext("Someone")


class HouseOwnRow(models.Model):
    """A row of its own that a house takes, besides what its parts take."""

    house = models.ForeignKey(House, models.CASCADE, related_name="own_rows")
    position = models.PositiveSmallIntegerField()
    material = models.ForeignKey(Material, models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=9, decimal_places=fields.PLACES)
    per = models.CharField(
        gettext_lazy("for each"),
        max_length=10,
        choices=[(per.value, gettext_lazy(name)) for per, name in fields.PER_NAMES.items()],
        default=fields.Per.HOUSE.value,
    )
    length = LengthField(gettext_lazy("length of each piece"), small=True, default=Decimal(0), blank=True)
    #: A kind of work; which there are is not the table's business.
    step = models.CharField(gettext_lazy("used in"), max_length=12, blank=True)
    note = models.CharField(max_length=fields.MAX_NOTE, blank=True)

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["house", "position"]
        constraints = [
            models.UniqueConstraint(fields=["house", "position"], name="own_row_position_once_a_house"),
            models.CheckConstraint(condition=Q(quantity__gt=0, length__gte=0), name="own_row_quantity_above_zero"),
            models.CheckConstraint(condition=Q(per__in=list(map(str, fields.Per))), name="own_row_per_is_known"),
        ]

    def __str__(self) -> str:
        return gettext("%(material)s: %(quantity)s for each %(each)s") % {
            "material": self.material,
            "quantity": format_decimal(self.quantity.normalize()),
            "each": self.get_per_display(),
        }
