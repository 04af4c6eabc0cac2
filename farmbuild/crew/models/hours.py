"""Hours of people: corrected with a reason, approved, and written down where no step foresaw the work."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from farmbuild.crew.models.actuals import MAX_MINUTES, Actual
from farmbuild.crew.models.people import Crew, Person
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import House

_MINUTES = [MinValueValidator(1), MaxValueValidator(MAX_MINUTES)]
_PEOPLE = [MinValueValidator(1), MaxValueValidator(50)]


class HourCorrection(OrgOwned):
    """What a run really took. The row of the run stays; the last correction counts. Never edited."""

    actual = models.ForeignKey(Actual, models.PROTECT, related_name="corrections")
    minutes = models.PositiveSmallIntegerField(gettext_lazy("minutes for one person"), validators=_MINUTES)
    people = models.PositiveSmallIntegerField(validators=_PEOPLE)
    reason = models.CharField(max_length=200)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="hour_correction_says_why"),
            models.CheckConstraint(
                condition=Q(minutes__gte=1, minutes__lte=MAX_MINUTES, people__gte=1), name="hour_correction_in_range"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min of {self.actual_id}"


class OtherWork(OrgOwned):
    """Work for a house that no step foresaw. Never edited; a wrong entry is taken back with a reason, once."""

    house = models.ForeignKey(House, models.PROTECT, related_name="other_work")
    what = models.CharField(max_length=200)
    day = models.DateField()
    minutes = models.PositiveSmallIntegerField(gettext_lazy("minutes for one person"), validators=_MINUTES)
    people = models.PositiveSmallIntegerField(default=1, validators=_PEOPLE)
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    crew = models.ForeignKey(Crew, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    recorded_at = models.DateTimeField(auto_now_add=True)
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    removed_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["day", "pk"]
        verbose_name_plural = "other work"
        indexes = [models.Index(fields=["organisation", "day"], name="other_work_by_day")]
        constraints = [
            models.CheckConstraint(condition=~Q(what=""), name="other_work_says_what"),
            models.CheckConstraint(
                condition=Q(minutes__gte=1, minutes__lte=MAX_MINUTES, people__gte=1), name="other_work_in_range"
            ),
            models.CheckConstraint(
                condition=Q(removed_at__isnull=True, removed_reason="")
                | (Q(removed_at__isnull=False) & ~Q(removed_reason="")),
                name="other_work_taken_back_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what}, {self.house}"


class HourApproval(OrgOwned):
    """That hours are right: of a run as ``correction`` left it (None: as it was pressed), or of other work."""

    actual = models.ForeignKey(Actual, models.PROTECT, null=True, blank=True, related_name="approvals")
    correction = models.OneToOneField(HourCorrection, models.PROTECT, null=True, blank=True, related_name="approval")
    other = models.OneToOneField(OtherWork, models.PROTECT, null=True, blank=True, related_name="approval")
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["actual"], condition=Q(correction__isnull=True), name="hours_as_pressed_approved_once"
            ),
            models.CheckConstraint(
                condition=Q(actual__isnull=False, other__isnull=True)
                | Q(actual__isnull=True, other__isnull=False, correction__isnull=True),
                name="hours_approved_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"Approval {self.pk}"
