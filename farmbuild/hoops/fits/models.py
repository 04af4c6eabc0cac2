"""How a set house sits: post spans and ridge heights, hoop by hoop."""

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from farmbuild.common.fields import LengthField
from farmbuild.measure.usual import RIDGE_TOLERANCE
from farmbuild.orgs.models import OrgOwned


class HouseFit(OrgOwned):
    """One sighting along the ridge of one house. The latest is the one that counts; earlier ones are kept."""

    house = models.ForeignKey("sites.House", models.PROTECT, related_name="fits")
    hoops = models.PositiveIntegerField(
        gettext_lazy("hoops of the house"), help_text=gettext_lazy("As specified when it was sighted.")
    )
    post_span = LengthField(
        gettext_lazy("post span wanted"), help_text=gettext_lazy("As specified when it was sighted.")
    )
    tolerance = LengthField(gettext_lazy("ridge may be off by"), small=True, usual=RIDGE_TOLERANCE)
    span_tolerance = LengthField(gettext_lazy("a post span may be off by"), small=True, usual=RIDGE_TOLERANCE)
    slope = models.DecimalField(
        gettext_lazy("slope of the ridge"),
        max_digits=7,
        decimal_places=5,
        null=True,
        blank=True,
        help_text=gettext_lazy("Rise over run, 0 for level. Empty: whatever straight line needs the least moving."),
    )
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(hoops__gte=1, post_span__gt=0, tolerance__gte=0, span_tolerance__gte=0),
                name="fit_sizes_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"Fit of {self.house}"


class FitReading(models.Model):
    fit = models.ForeignKey(HouseFit, models.CASCADE, related_name="readings")
    hoop = models.PositiveIntegerField(help_text=gettext_lazy("1 is the front hoop."))
    place = LengthField(
        gettext_lazy("from the front hoop"), help_text=gettext_lazy("As specified when it was sighted.")
    )
    post_span = LengthField(null=True, blank=True)
    ridge_height = LengthField(help_text=gettext_lazy("Above one level line for the whole house."))
    down = LengthField(gettext_lazy("can still go down"), small=True, default=Decimal(0))
    up = LengthField(gettext_lazy("can still come up"), small=True, default=Decimal(0))

    class Meta:
        ordering = ["fit", "hoop"]
        constraints = [
            models.UniqueConstraint(fields=["fit", "hoop"], name="fit_hoop_once"),
            models.CheckConstraint(
                condition=Q(hoop__gte=1, place__gte=0, ridge_height__gt=0, down__gte=0, up__gte=0),
                name="fit_reading_positive",
            ),
            models.CheckConstraint(condition=Q(post_span=None) | Q(post_span__gt=0), name="fit_post_span_positive"),
        ]

    def __str__(self) -> str:
        return f"Hoop {self.hoop}"
