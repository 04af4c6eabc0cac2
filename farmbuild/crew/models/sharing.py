"""The rules by which shared benders are given out, as the cooperative set them."""

import calendar

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import dates
from django.utils.translation import gettext

from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import Organisation

MONTHS = list(dates.MONTHS.items())


class SharingRules(models.Model):
    """Of an organisation that lends its benders. No row: the defaults hold."""

    organisation = models.OneToOneField(Organisation, models.CASCADE, primary_key=True, related_name="sharing_rules")
    season_month = models.PositiveSmallIntegerField(default=1, choices=MONTHS)
    season_day = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(31)])
    last_season_percent = models.PositiveSmallIntegerField(default=50, validators=[MaxValueValidator(100)])
    days_a_week_sooner = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(60)])
    together = models.BooleanField(default=True)
    most_days_open = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(366)]
    )

    objects = KeptQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "sharing rules"
        constraints = [
            models.CheckConstraint(condition=Q(season_month__gte=1, season_month__lte=12), name="sharing_month_is_one"),
            models.CheckConstraint(condition=Q(season_day__gte=1, season_day__lte=31), name="sharing_day_is_one"),
            models.CheckConstraint(condition=Q(last_season_percent__lte=100), name="sharing_last_season_in_part"),
            models.CheckConstraint(
                condition=Q(most_days_open__isnull=True) | Q(most_days_open__gte=1), name="sharing_a_day_or_more_open"
            ),
        ]

    def __str__(self) -> str:
        return f"Sharing by {self.organisation}"

    def clean(self) -> None:
        """A season starts on a day that every year has."""
        if not 1 <= (self.season_month or 0) <= 12:
            return
        last = calendar.monthrange(2027, self.season_month)[1]
        if self.season_day and self.season_day > last:
            name = dates.MONTHS[self.season_month]
            raise ValidationError(
                {
                    "season_day": gettext("Every %(name)s has %(last)s days. Type a day from 1 to %(last)s.")
                    % {"name": name, "last": last}
                }
            )
