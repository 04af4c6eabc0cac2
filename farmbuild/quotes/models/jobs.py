"""What a customer wants built, and the ground it is to stand on."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.fields import LengthField
from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet
from farmbuild.quotes.models.columns import checksum, moment, who
from farmbuild.quotes.models.customers import Customer
from farmbuild.sites.models import House, Site

#: Photos of one survey.
MAX_PHOTOS = 12


class Job(OrgOwned):
    """``number`` counts from 1 in each organisation and is written J-0001."""

    class State(models.TextChoices):
        ENQUIRY = "enquiry", gettext_lazy("Enquiry")
        QUOTED = "quoted", gettext_lazy("Quoted")
        ACCEPTED = "accepted", gettext_lazy("Accepted")
        FINISHED = "finished", gettext_lazy("Finished")
        LOST = "lost", gettext_lazy("Lost")

    #: States in which its houses are of no other job.
    LIVE = (State.ENQUIRY, State.QUOTED, State.ACCEPTED)

    number = models.PositiveIntegerField(editable=False)
    customer = models.ForeignKey(Customer, models.PROTECT, related_name="jobs")
    name = models.CharField(gettext_lazy("what it is"), max_length=120)
    #: None until it is known where the houses go.
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="jobs")
    note = models.TextField(blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.ENQUIRY, editable=False)
    lost_because = models.CharField(max_length=200, blank=True, editable=False)
    #: By which what was accepted is bought.
    plan = models.ForeignKey("plans.Plan", models.SET_NULL, null=True, blank=True, related_name="jobs", editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = who()
    archived_at = moment()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="job_number_once_an_organisation"),
            models.CheckConstraint(condition=Q(number__gte=1), name="job_numbers_begin_with_1"),
            models.CheckConstraint(condition=~Q(state="lost") | ~Q(lost_because=""), name="job_lost_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.reference} {self.name}"

    def get_absolute_url(self) -> str:
        return reverse("quotes:job", args=[self.number])

    @property
    def reference(self) -> str:
        return f"J-{self.number:04}"

    @property
    def is_live(self) -> bool:
        return self.state in self.LIVE


class JobHouse(OrgOwned):
    """A house that is built for a job. ``live``: the job is not over, so that the house is of no other one."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="job_houses")
    house = models.ForeignKey(House, models.PROTECT, related_name="job_houses")
    live = models.BooleanField(default=True, editable=False)
    #: Digest of the house as the customer last agreed to it; empty before.
    agreed = models.CharField(max_length=64, blank=True, editable=False)

    class Meta:
        ordering = ["job", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["job", "house"], name="house_once_a_job"),
            models.UniqueConstraint(fields=["house"], condition=Q(live=True), name="house_of_one_live_job"),
        ]

    def __str__(self) -> str:
        return f"{self.house} of {self.job.reference}"


class Survey(OrgOwned):
    """What was seen where the houses are to stand."""

    class Lines(models.TextChoices):
        UNKNOWN = "unknown", gettext_lazy("Nobody has looked")
        NONE = "none", gettext_lazy("None seen")
        THERE = "there", gettext_lazy("There are")

    class Buried(models.TextChoices):
        UNKNOWN = "unknown", gettext_lazy("Nobody has asked")
        ASKED = "asked", gettext_lazy("Asked for, not marked yet")
        MARKED = "marked", gettext_lazy("Marked on the ground")

    job = models.OneToOneField(Job, models.CASCADE, related_name="survey")
    looked_on = models.DateField(gettext_lazy("looked at on"), null=True, blank=True)
    looked_by = models.CharField(gettext_lazy("looked at by"), max_length=120, blank=True)
    ground_span = LengthField(gettext_lazy("width of the ground"), null=True, blank=True)
    ground_length = LengthField(gettext_lazy("length of the ground"), null=True, blank=True)
    slope = models.DecimalField(
        gettext_lazy("slope, percent"),
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        help_text=gettext_lazy("Fall in a hundred along it."),
    )
    soil = models.CharField(
        max_length=120, blank=True, help_text=gettext_lazy("For example: sandy, roots in the north corner.")
    )
    access = models.CharField(
        max_length=200,
        blank=True,
        help_text=gettext_lazy("How far a lorry gets, gates, soft ground, where sticks can lie."),
    )
    overhead = models.CharField(gettext_lazy("lines overhead"), max_length=7, choices=Lines, default=Lines.UNKNOWN)
    overhead_note = models.CharField(gettext_lazy("where they run, how high"), max_length=200, blank=True)
    buried = models.CharField(gettext_lazy("buried lines"), max_length=7, choices=Buried, default=Buried.UNKNOWN)
    marked_on = models.DateField(gettext_lazy("marked on"), null=True, blank=True)
    marked_by = models.CharField(gettext_lazy("marked by"), max_length=120, blank=True)
    note = models.TextField(blank=True)
    saved_at = models.DateTimeField(auto_now=True)
    saved_by = who()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(slope=None) | Q(slope__gte=Decimal(0), slope__lte=Decimal(100)),
                name="slope_is_up_to_100_percent",
            ),
            models.CheckConstraint(
                condition=~Q(buried="marked") | (Q(marked_on__isnull=False) & ~Q(marked_by="")),
                name="buried_lines_marked_by_somebody_on_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"Ground of {self.job.reference}"


class PhotoManager(models.Manager.from_queryset(OrgOwnedQuerySet)):
    """Rows without their bytes: a list of photos must not read the photos."""

    def get_queryset(self) -> OrgOwnedQuerySet:
        return super().get_queryset().defer("data", "thumbnail")


class SurveyPhoto(OrgOwned):
    """A photo of the ground, as re-encoded JPEG. Never edited; taken away, its bytes go and the fact stays."""

    survey = models.ForeignKey(Survey, models.PROTECT, related_name="photos")
    position = models.PositiveSmallIntegerField()
    caption = models.CharField(gettext_lazy("what it shows"), max_length=120, blank=True)
    data = models.BinaryField(null=True)
    thumbnail = models.BinaryField(null=True)
    sha256 = checksum()
    width = models.PositiveIntegerField("width in pixels")
    height = models.PositiveIntegerField("height in pixels")
    added_at = models.DateTimeField(auto_now_add=True)
    added_by = who()
    removed_at = moment()
    removed_by = who()

    objects = PhotoManager()

    class Meta:
        ordering = ["survey", "position"]
        constraints = [
            models.UniqueConstraint(fields=["survey", "position"], name="survey_photo_once_a_position"),
            models.CheckConstraint(
                condition=Q(position__gte=1, position__lte=MAX_PHOTOS), name="survey_photo_position_in_range"
            ),
            models.CheckConstraint(condition=Exact(Length("sha256"), 64), name="survey_photo_has_a_checksum"),
            models.CheckConstraint(
                condition=Q(removed_at__isnull=True, data__isnull=False, thumbnail__isnull=False)
                | Q(removed_at__isnull=False, data__isnull=True, thumbnail__isnull=True),
                name="survey_photo_there_or_taken_away",
            ),
        ]

    def __str__(self) -> str:
        return self.caption or f"Photo {self.position}"
