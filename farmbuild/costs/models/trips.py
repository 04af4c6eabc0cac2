"""Trips to a site, each at its price."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext

from farmbuild.costs.models.posted import Posted, RateSince, has_its_sign, of_one_thing, rate_field, says_why
from farmbuild.crew.models import Crew
from farmbuild.sites.models import House, Site

MAX_TIMES = 50
MAX_SHARED = 200


class TripRate(RateSince):
    """To a site; else to every site that has none of its own."""

    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="trip_rates")
    each = rate_field("price of a trip")

    class Meta:
        ordering = ["site__name", "-since"]
        constraints = [
            models.CheckConstraint(condition=Q(each__gte=0), name="trip_rate_not_negative"),
            models.UniqueConstraint(fields=["site", "since"], name="trip_rate_of_a_site_once_a_day"),
            models.UniqueConstraint(
                fields=["organisation", "since"],
                condition=Q(site__isnull=True),
                name="trip_rate_of_any_site_once_a_day",
            ),
        ]

    def __str__(self) -> str:
        return str(self.site or gettext("Any site"))


class Trip(Posted):
    """Trips of a day to a site, for a house there or a job; without either, a general expense.

    Trips that served several houses are a row a house: ``shared`` says how many they were, and ``amount`` is this one's
    part of ``times`` x ``rate``.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="trips")
    house = models.ForeignKey(House, models.PROTECT, null=True, blank=True, related_name="trips")
    job = models.ForeignKey("quotes.Job", models.PROTECT, null=True, blank=True, related_name="trips")
    #: Whose trip it was, where it was proposed from a day of work.
    crew = models.ForeignKey(Crew, models.PROTECT, null=True, blank=True, related_name="+", editable=False)
    times = models.SmallIntegerField(
        "trips, there and back", validators=[MinValueValidator(-MAX_TIMES), MaxValueValidator(MAX_TIMES)]
    )
    shared = models.PositiveSmallIntegerField(
        "houses that share it", default=1, validators=[MinValueValidator(1), MaxValueValidator(MAX_SHARED)]
    )

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["organisation", "day"], name="trip_by_day")]
        constraints = [
            has_its_sign("trip_has_its_sign", "times"),
            says_why("trip_taken_back_says_why"),
            of_one_thing("trip_of_one_thing", or_none=True),
            models.CheckConstraint(condition=Q(times__gte=-MAX_TIMES, times__lte=MAX_TIMES), name="trip_times_bounded"),
            models.CheckConstraint(condition=Q(shared__gte=1), name="trip_shared_by_one_or_more"),
        ]

    def __str__(self) -> str:
        return f"{self.times} to {self.site}"
