"""Benders and other things that are charged by the day."""

from django.db import models
from django.db.models import Q

from farmbuild.costs.models.posted import Posted, RateSince, has_its_sign, of_one_thing, rate_field, says_why
from farmbuild.crew.models import BenderBooking
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import OrgOwned
from farmbuild.sites.models import House


class Equipment(OrgOwned):
    """A bender, or another thing by its ``name``."""

    bender = models.OneToOneField(Bender, models.PROTECT, null=True, blank=True, related_name="as_equipment")
    name = models.CharField(max_length=120, blank=True)
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name", "pk"]
        verbose_name_plural = "equipment"
        constraints = [
            models.CheckConstraint(
                condition=Q(bender__isnull=True) & ~Q(name="") | Q(bender__isnull=False, name=""),
                name="equipment_is_a_bender_or_has_a_name",
            ),
            models.UniqueConstraint(
                fields=["organisation", "name"], condition=~Q(name=""), name="equipment_name_once_an_organisation"
            ),
        ]

    def __str__(self) -> str:
        return self.name or str(self.bender)


class EquipmentRate(RateSince):
    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="rates")
    a_day = rate_field("price a day")

    class Meta:
        ordering = ["equipment", "-since"]
        constraints = [
            models.CheckConstraint(condition=Q(a_day__gte=0), name="equipment_rate_not_negative"),
            models.UniqueConstraint(fields=["equipment", "since"], name="equipment_rate_once_a_day"),
        ]

    def __str__(self) -> str:
        return str(self.equipment)


class EquipmentDay(Posted):
    """A thing for a day at one house, or for a job as a whole; charged once for it and day.

    ``booking``: from which it was proposed.
    """

    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="days")
    house = models.ForeignKey(House, models.PROTECT, null=True, blank=True, related_name="equipment_days")
    job = models.ForeignKey("quotes.Job", models.PROTECT, null=True, blank=True, related_name="equipment_days")
    booking = models.ForeignKey(
        BenderBooking, models.PROTECT, null=True, blank=True, related_name="charged_days", editable=False
    )
    #: 1, or -1 where it takes a day back.
    days = models.SmallIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["organisation", "day"], name="equipment_day_by_day")]
        constraints = [
            has_its_sign("equipment_day_has_its_sign", "days"),
            says_why("equipment_day_taken_back_says_why"),
            of_one_thing("equipment_day_of_one_thing"),
            models.CheckConstraint(condition=Q(days__gte=-1, days__lte=1), name="equipment_day_is_one_day"),
        ]

    def __str__(self) -> str:
        return f"{self.equipment} for {self.house or self.job}"
