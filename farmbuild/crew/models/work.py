"""What has to be done for a house, in which order, and how long a unit of it takes."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from farmbuild.crew.models.people import Skill
from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import House


class Kind(models.TextChoices):
    """The work of a house. What each is counted in stands with its part, in planning.house.parts."""

    SURVEY = "survey", _("Survey and mark out")
    SAW = "saw", _("Saw pieces")
    POSTS = "posts", _("Ground posts")
    MARK = "mark", _("Mark sticks")
    TRIAL = "trial", _("Trial hoop")
    BEND = "bend", _("Bend the batch")
    JOIN = "join", _("Join and screw")
    SET = "set", _("Set and spring in")
    SIGHT = "sight", _("Sight and adjust")
    RIDGE = "ridge", _("Ridge and purlins")
    HIP = "hip", _("Hip boards")
    BASE = "base", _("Base boards")
    ENDS = "ends", _("End walls")
    FILM = "film", _("Film")
    ANCHORS = "anchors", _("Anchors")


class Rate(OrgOwned):
    """Person-minutes for one unit of a kind of work, and once a house; hours of work follow from the counts."""

    kind = models.CharField(max_length=8, choices=Kind)
    minutes_each = models.DecimalField(
        _("person-minutes for each"),
        max_digits=7,
        decimal_places=2,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(10_000))],
    )
    minutes_once = models.DecimalField(
        _("person-minutes once a house"),
        max_digits=7,
        decimal_places=2,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(10_000))],
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "kind"], name="rate_once_a_kind"),
            models.CheckConstraint(condition=Q(minutes_each__gte=0, minutes_once__gte=0), name="rate_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.minutes_each} min each"


class WorkTemplate(OrgOwned):
    """The steps of one type of house."""

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="work_template_slug_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name


class WorkStep(models.Model):
    template = models.ForeignKey(WorkTemplate, models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=8, choices=Kind)
    people = models.PositiveSmallIntegerField(
        _("people it takes"), default=1, validators=[MinValueValidator(1), MaxValueValidator(50)]
    )
    skill = models.ForeignKey(Skill, models.PROTECT, null=True, blank=True, related_name="+")

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["template", "position"]
        constraints = [
            models.UniqueConstraint(fields=["template", "kind"], name="work_step_once_a_kind"),
            models.CheckConstraint(condition=Q(people__gte=1), name="work_step_takes_somebody"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class StepAfter(models.Model):
    """``step`` starts no sooner than ``lag_minutes`` of real time after ``after`` has ended."""

    step = models.ForeignKey(WorkStep, models.CASCADE, related_name="afters")
    after = models.ForeignKey(WorkStep, models.CASCADE, related_name="befores")
    lag_minutes = models.PositiveIntegerField(default=0, validators=[MaxValueValidator(60 * 24 * 60)])

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["step", "after"], name="step_after_once"),
            models.CheckConstraint(condition=~Q(step=F("after")), name="step_not_after_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.step} after {self.after}"


class HouseWork(OrgOwned):
    """By which template a house is built, and when it should stand."""

    house = models.OneToOneField(House, models.PROTECT, related_name="work")
    template = models.ForeignKey(WorkTemplate, models.PROTECT, related_name="houses")
    due = models.DateField(_("to stand by"), null=True, blank=True)

    class Meta:
        ordering = ["due", "pk"]
        verbose_name_plural = "house work"

    def __str__(self) -> str:
        return f"Work of {self.house}"
