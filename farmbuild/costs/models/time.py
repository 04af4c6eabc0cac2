"""What an hour of a person costs, and the time of people at houses in money."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext

from farmbuild.costs.models.posted import Posted, RateSince, has_its_sign, of_one_thing, rate_field, says_why
from farmbuild.crew.models import Crew, HourApproval, Kind, Person
from farmbuild.sites.models import House

#: A row is of one day.
MAX_MINUTES = 24 * 60


class PayRate(RateSince):
    """Of a person; else of all in a crew who have none of their own; else of everybody."""

    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="pay_rates")
    crew = models.ForeignKey(Crew, models.PROTECT, null=True, blank=True, related_name="pay_rates")
    an_hour = rate_field("pay an hour")

    class Meta:
        ordering = ["person__name", "crew__name", "-since"]
        constraints = [
            models.CheckConstraint(
                condition=Q(person__isnull=True) | Q(crew__isnull=True), name="pay_rate_of_a_person_or_a_crew"
            ),
            models.CheckConstraint(condition=Q(an_hour__gte=0), name="pay_rate_not_negative"),
            models.UniqueConstraint(fields=["person", "since"], name="pay_rate_of_a_person_once_a_day"),
            models.UniqueConstraint(fields=["crew", "since"], name="pay_rate_of_a_crew_once_a_day"),
            models.UniqueConstraint(
                fields=["organisation", "since"],
                condition=Q(person__isnull=True, crew__isnull=True),
                name="pay_rate_of_everybody_once_a_day",
            ),
        ]

    def __str__(self) -> str:
        return str(self.person or self.crew or gettext("Everybody"))


class PaidTime(Posted):
    """Time of one person on one day at one house, or for a job as a whole, at the ``rate`` an hour of that day.

    It comes from hours that were approved, or was typed (``approval`` None). ``starts_at`` and ``ends_at`` are there
    where they are known; no two rows of a person that count overlap. What goes past the end of the crew's day is a row
    of its own, ``after_hours``.
    """

    person = models.ForeignKey(Person, models.PROTECT, related_name="paid_time")
    house = models.ForeignKey(House, models.PROTECT, null=True, blank=True, related_name="paid_time")
    job = models.ForeignKey("quotes.Job", models.PROTECT, null=True, blank=True, related_name="paid_time")
    step = models.CharField(max_length=8, choices=Kind, blank=True)
    what = models.CharField("what was done", max_length=200, blank=True)
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    minutes = models.SmallIntegerField(validators=[MinValueValidator(-MAX_MINUTES), MaxValueValidator(MAX_MINUTES)])
    after_hours = models.BooleanField("past the end of the crew's day", default=False)
    approval = models.ForeignKey(
        HourApproval, models.PROTECT, null=True, blank=True, related_name="paid_time", editable=False
    )

    class Meta:
        ordering = ["day", "pk"]
        verbose_name_plural = "paid time"
        indexes = [
            models.Index(fields=["organisation", "day"], name="paid_time_by_day"),
            models.Index(fields=["person", "day"], name="paid_time_by_person_and_day"),
        ]
        constraints = [
            has_its_sign("paid_time_has_its_sign", "minutes"),
            says_why("paid_time_taken_back_says_why"),
            of_one_thing("paid_time_of_one_thing"),
            models.CheckConstraint(
                condition=Q(minutes__gte=-MAX_MINUTES, minutes__lte=MAX_MINUTES), name="paid_time_within_a_day"
            ),
            models.CheckConstraint(condition=~Q(step="", what=""), name="paid_time_says_what"),
            models.CheckConstraint(
                condition=Q(starts_at__isnull=True, ends_at__isnull=True) | Q(starts_at__lt=F("ends_at")),
                name="paid_time_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min of {self.person}"
