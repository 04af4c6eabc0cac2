"""Wind limits and forecasts, as people typed them."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import Site

#: No speed of wind in either unit is higher than this at the ground, bar a mistyped one.
FASTEST = Decimal(400)


class SpeedUnit(models.TextChoices):
    MPH = "mph", "mph"
    KMH = "kmh", "km/h"


class WindLimit(OrgOwned):
    """At this wind and above, this work is not to be done. No row: no limit is set, and nothing follows from that."""

    class Work(models.TextChoices):
        FILM = "film", _("Film work")
        LADDER = "ladder", _("Ladder work")

    class Measure(models.TextChoices):
        MEAN = "mean", _("Mean wind")
        GUST = "gust", _("Gusts")

    work = models.CharField(max_length=6, choices=Work)
    measure = models.CharField(max_length=4, choices=Measure)
    speed = models.DecimalField(
        max_digits=4, decimal_places=1, validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(FASTEST)]
    )
    unit = models.CharField(max_length=3, choices=SpeedUnit)
    source = models.CharField("whose limit", max_length=200)
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    set_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["work"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "work"], name="wind_limit_once_an_organisation_and_work"),
            models.CheckConstraint(condition=Q(speed__gt=0), name="wind_limit_above_nought"),
        ]

    def __str__(self) -> str:
        return f"{self.get_work_display()}: {self.speed} {self.get_unit_display()}"


class WindForecast(OrgOwned):
    """What someone read elsewhere for a site and a day. Never edited; of a site and day the one entered last holds."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="wind_forecasts")
    day = models.DateField()
    wind = models.DecimalField(
        max_digits=4, decimal_places=1, validators=[MinValueValidator(Decimal(0)), MaxValueValidator(FASTEST)]
    )
    gust = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(FASTEST)],
    )
    unit = models.CharField(max_length=3, choices=SpeedUnit)
    source = models.CharField(max_length=200)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False
    )
    entered_at = models.DateTimeField(editable=False)

    class Meta:
        ordering = ["day", "entered_at", "pk"]
        indexes = [models.Index(fields=["organisation", "day"], name="wind_forecast_by_day")]
        constraints = [
            models.CheckConstraint(condition=Q(wind__gte=0), name="wind_forecast_not_below_nought"),
            models.CheckConstraint(
                condition=Q(gust__isnull=True) | Q(gust__gte=F("wind")), name="wind_forecast_gust_from_wind_up"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site}, {self.day}: {self.wind} {self.get_unit_display()}"
