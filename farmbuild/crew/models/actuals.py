"""What was really done: a row a press, never edited; a wrong one is taken back by another row."""

from datetime import datetime, timedelta

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from farmbuild.crew.models.people import Crew, Person
from farmbuild.crew.models.schedule import Task
from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet

#: Hours that are typed are of one day.
MAX_MINUTES = 24 * 60


class ActualQuerySet(OrgOwnedQuerySet):
    def net(self) -> "ActualQuerySet":
        """Without what was taken back, and without the rows that took it back."""
        return self.filter(reverses=None, reversed_by=None)

    def running(self) -> "ActualQuerySet":
        """Starts that count and that nothing has ended."""
        ends = Actual.objects.filter(begun=models.OuterRef("pk"), reversed_by=None)
        return self.net().filter(~models.Exists(ends), started_at__isnull=False, stopped_at=None)

    def runs(self) -> "ActualQuerySet":
        """Work that counts and has its time: begun and ended, or with the hours that somebody typed."""
        return self.net().filter(Q(started_at__isnull=False, stopped_at__isnull=False) | Q(minutes__isnull=False))


class Actual(OrgOwned):
    """Work as it was done. ``key`` is made on the device, so that what is sent twice is kept once. Never edited.

    A start has ``started_at`` alone; what ends it carries its time on and names it as ``begun``. ``crew``, ``day`` and
    ``late`` are as the crew's hours stood when it was pressed.
    """

    task = models.ForeignKey(Task, models.PROTECT, related_name="actuals")
    key = models.UUIDField()
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    started_at = models.DateTimeField(null=True, blank=True)
    stopped_at = models.DateTimeField(null=True, blank=True)
    begun = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="ends", editable=False)
    minutes = models.PositiveSmallIntegerField(
        gettext_lazy("minutes where nobody pressed start"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_MINUTES)],
    )
    people = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(50)])
    done = models.PositiveIntegerField(gettext_lazy("units done"), default=0)
    finished = models.BooleanField(gettext_lazy("the task is done"), default=False)
    problem = models.CharField(max_length=400, blank=True)
    recorded_at = models.DateTimeField(auto_now_add=True)
    crew = models.ForeignKey(Crew, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    day = models.DateField(gettext_lazy("day of the work"), null=True, blank=True, editable=False)
    late = models.BooleanField("goes past the end of the crew's day", default=False, editable=False)
    reverses = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="reversed_by", editable=False
    )
    reason = models.CharField("why it is taken back", max_length=200, blank=True)

    objects = ActualQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["organisation", "day"], name="actual_by_day")]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "key"], name="actual_kept_once"),
            models.CheckConstraint(
                condition=Q(started_at__isnull=True) | Q(stopped_at__isnull=True) | Q(started_at__lte=F("stopped_at")),
                name="actual_stops_after_it_starts",
            ),
            models.CheckConstraint(
                condition=Q(minutes__isnull=True)
                | Q(minutes__gte=1, minutes__lte=MAX_MINUTES, started_at__isnull=True, stopped_at__isnull=False),
                name="actual_clocked_or_typed",
            ),
            models.CheckConstraint(
                condition=Q(reverses__isnull=True)
                | Q(done=0, finished=False, problem="", started_at__isnull=True, minutes__isnull=True),
                name="actual_taken_back_by_nothing_else",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.done} of {self.task}"

    @property
    def when(self) -> datetime:
        """When it was pressed, as far as that is known."""
        return self.stopped_at or self.started_at or self.recorded_at

    @property
    def length(self) -> timedelta | None:
        """How long the run lasted, for one person; None while it runs, and without times."""
        if self.minutes is not None:
            return timedelta(minutes=self.minutes)
        return self.stopped_at - self.started_at if self.started_at and self.stopped_at else None
