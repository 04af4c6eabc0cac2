"""How a set house sits: post spans and ridge heights, hoop by hoop."""

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from farmbuild.common.fields import LengthField
from farmbuild.orgs.models import OrgOwned

INCH = Decimal("25.4")


class HouseFit(OrgOwned):
    """One sighting along the ridge of one house. The latest is the one that counts; earlier ones are kept."""

    house = models.ForeignKey("sites.House", models.PROTECT, related_name="fits")
    tolerance = LengthField("ridge may be off by", small=True, default=INCH / 2)
    slope = models.DecimalField(
        "slope of the ridge",
        max_digits=7,
        decimal_places=5,
        null=True,
        blank=True,
        help_text="Rise over run, 0 for level. Empty: whatever straight line needs the least moving.",
    )
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"Fit of {self.house}"


class FitReading(models.Model):
    fit = models.ForeignKey(HouseFit, models.CASCADE, related_name="readings")
    hoop = models.PositiveIntegerField(help_text="1 is the front hoop.")
    post_span = LengthField(null=True, blank=True)
    ridge_height = LengthField(help_text="Above one level line for the whole house.")
    down = LengthField("can still go down", small=True, default=Decimal(0))
    up = LengthField("can still come up", small=True, default=Decimal(0))

    class Meta:
        ordering = ["fit", "hoop"]
        constraints = [
            models.UniqueConstraint(fields=["fit", "hoop"], name="fit_hoop_once"),
            models.CheckConstraint(
                condition=Q(hoop__gte=1, ridge_height__gt=0, down__gte=0, up__gte=0), name="fit_reading_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"Hoop {self.hoop}"
