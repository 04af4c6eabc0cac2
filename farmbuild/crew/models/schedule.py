"""Schedules as worked out, the tasks people follow, and what was really done."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from farmbuild.common.long_work import LongSearch
from farmbuild.crew.models.people import Crew
from farmbuild.crew.models.work import Kind
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import House

#: 400 hours on site, ten weeks of five days: longer is several tasks. Common practice, no source.
MAX_OWN_MINUTES = 400 * 60


class Schedule(OrgOwned, LongSearch):
    """One working-out of all open work; published when people are to follow it. Inputs and result are kept whole."""

    number = models.PositiveIntegerField(editable=False)
    starts_at = models.DateTimeField("from")
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    published_at = models.DateTimeField(null=True, blank=True, editable=False)
    inputs = models.JSONField(editable=False)
    #: What it rests on (schedule.seen) as it was when asked for, and from publishing on as it was then.
    seen = models.JSONField(null=True, editable=False)
    result = models.JSONField(null=True, editable=False)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="schedule_number_once_an_organisation"),
            models.CheckConstraint(
                condition=~Q(state="ready") | Q(result__isnull=False), name="schedule_ready_has_result"
            ),
            models.CheckConstraint(condition=~Q(state="failed") | ~Q(problem=""), name="schedule_stopped_says_why"),
            models.CheckConstraint(
                condition=Q(published_at__isnull=True) | Q(state="ready"), name="schedule_published_when_ready"
            ),
        ]

    def __str__(self) -> str:
        return f"Schedule {self.number}"


class Task(OrgOwned):
    """One step of one house. ``starts_at`` and ``ends_at`` are as published; None: not planned yet."""

    class State(models.TextChoices):
        OPEN = "open", _("To do")
        STARTED = "started", _("Started")
        DONE = "done", _("Done")

    house = models.ForeignKey(House, models.PROTECT, related_name="tasks")
    kind = models.CharField(max_length=8, choices=Kind)
    position = models.PositiveSmallIntegerField(default=0)
    count = models.PositiveIntegerField(default=0, help_text=_("Pulls, posts, joints or feet, as the kind is counted."))
    #: What is counted by length is counted in metres.
    metric = models.BooleanField(default=False, editable=False)
    people = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(50)])
    #: By count and rate. ``planned_minutes`` is what is planned with.
    minutes = models.PositiveIntegerField(_("minutes for all of them together on site"), default=0)
    own_minutes = models.PositiveIntegerField(
        _("a length of its own, in minutes on site"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_OWN_MINUTES)],
    )
    crew = models.ForeignKey(Crew, models.PROTECT, null=True, blank=True, related_name="tasks")
    bender = models.ForeignKey(Bender, models.PROTECT, null=True, blank=True, related_name="tasks")
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    fixed = models.BooleanField(_("stays where it is"), default=False)
    not_before = models.DateField(_("not before"), null=True, blank=True)
    state = models.CharField(max_length=7, choices=State, default=State.OPEN, editable=False)
    #: Sum of what was recorded done, kept by crew.services alone.
    done = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["starts_at", "house", "position", "pk"]
        indexes = [models.Index(fields=["organisation", "starts_at"], name="task_by_start")]
        constraints = [
            models.UniqueConstraint(fields=["house", "kind"], name="task_once_a_house_and_kind"),
            models.CheckConstraint(
                condition=Q(starts_at__isnull=True, ends_at__isnull=True) | Q(starts_at__lte=F("ends_at")),
                name="task_ends_after_it_starts",
            ),
            models.CheckConstraint(condition=Q(people__gte=1), name="task_takes_somebody"),
            models.CheckConstraint(
                condition=Q(own_minutes__isnull=True) | Q(own_minutes__gte=1, own_minutes__lte=MAX_OWN_MINUTES),
                name="task_own_length_in_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.house}"

    @property
    def planned_minutes(self) -> int:
        """Minutes on site: the length of its own where it has one, else by count and rate."""
        return self.minutes if self.own_minutes is None else self.own_minutes
