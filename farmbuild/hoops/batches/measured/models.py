"""What happens to a bender besides the batches that are recorded here: hoops measured elsewhere, and services.

No row is edited; a wrong one is taken back with a reason, once (migration guards).
"""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthField
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import OrgOwned, OrgOwnedQuerySet


class StandingQuerySet(OrgOwnedQuerySet):
    def standing(self) -> "StandingQuerySet":
        """Without what was taken back."""
        return self.filter(removed_at=None)


class OfBender(OrgOwned):
    """A row of one bender and day, with who wrote it down and who took it back."""

    bender = models.ForeignKey(Bender, models.PROTECT, related_name="%(class)s_rows")
    day = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", editable=False)
    at = models.DateTimeField(auto_now_add=True)
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    removed_reason = models.CharField(gettext_lazy("why it is taken back"), max_length=200, blank=True)

    objects = StandingQuerySet.as_manager()

    class Meta:
        abstract = True


def _says_why(name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(removed_at__isnull=True, removed_reason="") | (Q(removed_at__isnull=False) & ~Q(removed_reason="")),
        name=name,
    )


class MeasuredHoop(OfBender):
    """A hoop bent on it that is in no batch here, as it stood free. ``radius`` follows from span and rise."""

    member = models.ForeignKey("crew.Member", models.PROTECT, null=True, blank=True, related_name="+")
    booking = models.ForeignKey(
        "crew.BenderBooking", models.PROTECT, null=True, blank=True, related_name="measured_hoops"
    )
    tube = models.ForeignKey(Material, models.PROTECT, related_name="+", limit_choices_to={"kind": "tube"})
    free_span = LengthField(
        gettext_lazy("free span"), help_text=gettext_lazy("Between the hoop's ends, the hoop lying flat and free.")
    )
    rise = LengthField("rise", help_text=gettext_lazy("From the line through the ends to the centre of the crown."))
    pipe = LengthField(
        gettext_lazy("pipe in the hoop"),
        help_text=gettext_lazy("Along the bend, joined: the sticks less what slides in."),
    )
    radius = LengthField(small=True, editable=False)

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["bender", "day"], name="measured_hoop_by_bender_day")]
        constraints = [
            _says_why("measured_hoop_taken_back_says_why"),
            models.CheckConstraint(
                condition=Q(free_span__gt=0, rise__gt=0, pipe__gt=0, radius__gt=0), name="measured_hoop_has_sizes"
            ),
        ]

    def __str__(self) -> str:
        return f"Hoop of {self.day} on {self.bender}"


class ServiceRecord(OfBender):
    """A bender was looked after. ``pulls``: how many had been made on it by the end of that day."""

    done = models.CharField("what was done", max_length=200)
    who = models.CharField("who did it", max_length=120)
    parts = models.CharField("parts", max_length=200, blank=True)
    cost = models.DecimalField(
        max_digits=15, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    pulls = models.PositiveIntegerField(editable=False)

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [models.Index(fields=["bender", "day"], name="service_by_bender_and_day")]
        constraints = [
            _says_why("service_taken_back_says_why"),
            models.CheckConstraint(condition=~Q(done="") & ~Q(who=""), name="service_says_what_and_who"),
            models.CheckConstraint(condition=Q(cost__isnull=True) | Q(cost__gte=0), name="service_cost_not_negative"),
        ]

    def __str__(self) -> str:
        return f"Service of {self.bender}, {self.day}"
