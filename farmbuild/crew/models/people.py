"""Who works, when, and how far it is between sites."""

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.history.capture import KeptQuerySet
from farmbuild.orgs.models import Organisation, OrgOwned
from farmbuild.sites.models import Site


class CrewSettings(models.Model):
    """What holds for all work of an organisation."""

    organisation = models.OneToOneField(Organisation, models.CASCADE, primary_key=True, related_name="crew_settings")
    travel_minutes = models.PositiveSmallIntegerField(
        gettext_lazy("minutes between two sites where nothing else is listed"),
        default=30,
        validators=[MaxValueValidator(1440)],
    )

    objects = KeptQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "crew settings"

    def __str__(self) -> str:
        return f"Work of {self.organisation}"


class WorkWeek(OrgOwned):
    """The hours of a usual week."""

    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "name"], name="work_week_name_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name


class WorkHours(models.Model):
    """From ``starts`` to ``ends`` by the clock on the wall, every week on that day; hours of a day do not overlap."""

    class Day(models.IntegerChoices):
        MONDAY = 0
        TUESDAY = 1
        WEDNESDAY = 2
        THURSDAY = 3
        FRIDAY = 4
        SATURDAY = 5
        SUNDAY = 6

    week = models.ForeignKey(WorkWeek, models.CASCADE, related_name="hours")
    day = models.PositiveSmallIntegerField(choices=Day)
    starts = models.TimeField()
    ends = models.TimeField()

    objects = KeptQuerySet.as_manager()

    class Meta:
        ordering = ["week", "day", "starts"]
        verbose_name_plural = gettext_lazy("work hours")
        constraints = [
            models.CheckConstraint(condition=Q(starts__lt=F("ends")), name="work_hours_end_after_they_start"),
            models.CheckConstraint(condition=Q(day__gte=0, day__lte=6), name="work_hours_on_a_day_of_the_week"),
            models.UniqueConstraint(fields=["week", "day", "starts"], name="work_hours_start_once"),
        ]

    def __str__(self) -> str:
        return f"{self.get_day_display()} {self.starts:%H:%M} to {self.ends:%H:%M}"


class Crew(OrgOwned):
    """People who go to a site together and do one task at a time."""

    name = models.CharField(max_length=80)
    slug = models.SlugField(max_length=80)
    week = models.ForeignKey(WorkWeek, models.PROTECT, related_name="crews", verbose_name=gettext_lazy("working hours"))
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="crew_slug_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("crew:crew", args=[self.slug])


class Skill(OrgOwned):
    """Something not everybody may or can do: ladder work, bending."""

    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "name"], name="skill_name_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name


class Person(OrgOwned):
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=120)
    crew = models.ForeignKey(Crew, models.SET_NULL, null=True, blank=True, related_name="people")
    skills = models.ManyToManyField(Skill, blank=True, related_name="people")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="people", editable=False
    )
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"
        constraints = [
            models.UniqueConstraint(fields=["organisation", "slug"], name="person_slug_once_an_organisation"),
            models.UniqueConstraint(fields=["organisation", "user"], name="person_user_once_an_organisation"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("crew:person", args=[self.slug])


class DayOff(OrgOwned):
    """Whole days off, of one person or, without a person, of everybody."""

    person = models.ForeignKey(Person, models.CASCADE, null=True, blank=True, related_name="days_off")
    first = models.DateField(gettext_lazy("first day off"))
    last = models.DateField(gettext_lazy("last day off"))
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["first", "pk"]
        verbose_name_plural = gettext_lazy("days off")
        constraints = [
            models.CheckConstraint(condition=Q(first__lte=F("last")), name="day_off_ends_after_it_starts"),
        ]

    def __str__(self) -> str:
        return f"{self.person or 'Everybody'} off {self.first} to {self.last}"


class Travel(OrgOwned):
    """Minutes on the road between two sites, the same both ways; the site with the lower number stands first."""

    one = models.ForeignKey(Site, models.CASCADE, related_name="+")
    other = models.ForeignKey(Site, models.CASCADE, related_name="+")
    minutes = models.PositiveSmallIntegerField(validators=[MaxValueValidator(1440)])

    class Meta:
        ordering = ["one__name", "other__name"]
        verbose_name_plural = "travel"
        constraints = [
            models.CheckConstraint(condition=Q(one__lt=F("other")), name="travel_between_two_sites"),
            models.UniqueConstraint(fields=["one", "other"], name="travel_once_a_pair"),
        ]

    def __str__(self) -> str:
        return f"{self.one} to {self.other}: {self.minutes} min"
