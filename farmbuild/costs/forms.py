"""Forms of time, equipment, trips and their prices."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django import forms

from farmbuild.catalogue.fields import MoneyField, use_organisation
from farmbuild.common.forms import OrgForm, RowsField
from farmbuild.common.number_fields import DecimalFormField, WholeFormField
from farmbuild.costs.models import Equipment, PaidTime
from farmbuild.costs.models.trips import MAX_TIMES
from farmbuild.crew.models import Crew, Kind, Person
from farmbuild.crew.people.selectors import crews_of, people_of
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.clock import today
from farmbuild.sites.house_choice import HouseChoiceField
from farmbuild.sites.models import Site
from farmbuild.sites.selectors import sites_of

_DAY_WORDS = dict.fromkeys(("required", "invalid"), "Type a date, for example 2027-05-12.")
_TIME_WORDS = dict.fromkeys(("required", "invalid"), "Type a time, for example 07:30.")
_NUMBER = ("required", "invalid", "min_value", "max_value", "max_digits", "max_decimal_places")
_HOURS_WORDS = dict.fromkeys(_NUMBER, "Type the hours as a number from 0.05 to 24, for example 2.5.")
_TIMES_WORDS = dict.fromkeys(_NUMBER, f"Type how many trips it were, from 1 to {MAX_TIMES}.")


def day_field(label: str = "Day") -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, error_messages=_DAY_WORDS, initial=today)


def _time_field(label: str) -> forms.TimeField:
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, required=False, widget=widget, error_messages=_TIME_WORDS)


def jobs_of(organisation: Any) -> Any:
    """Jobs that are not archived; the app that has them is above this one."""
    rows = PaidTime._meta.get_field("job").related_model.objects.of(organisation)
    return rows.filter(archived_at=None)


class _OfAHouseOrJob(OrgForm):
    """Asks for a job only where there is one. ``general``: neither is needed. ``asked``: the query of the address,
    which may name the house by its slug or the job by its number to begin with."""

    general = False

    def __init__(self, *args: Any, asked: Mapping[str, str] = MappingProxyType({}), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        jobs = jobs_of(self.organisation)
        if house := asked.get("house"):
            self.initial["house"] = self.fields["house"].queryset.filter(slug=house).first()
        if (number := asked.get("job", "")).isdecimal():
            self.initial["job"] = jobs.filter(number=number).first()
        self.fields["job"].queryset = jobs
        if not jobs.exists():
            # Without jobs the house is asked for, but where it may be a general expense.
            del self.fields["job"]
            if not self.general:
                self.fields["house"].required, self.fields["house"].empty_label = True, "Choose one"


def _house_field(help_text: str = "") -> HouseChoiceField:
    return HouseChoiceField(
        label="House",
        empty_label="No house",
        help_text=help_text,
        error_messages={"required": "Choose the house."},
    )


def _job_field() -> forms.ModelChoiceField:
    return forms.ModelChoiceField(
        label="Or a job as a whole",
        queryset=PaidTime._meta.get_field("job").related_model.objects.none(),
        required=False,
        empty_label="No job",
    )


class TimeForm(_OfAHouseOrJob):
    person = forms.ModelChoiceField(label="Who", queryset=Person.objects.none())
    day = day_field()
    house = _house_field()
    job = _job_field()
    step = forms.ChoiceField(label="Step", choices=[("", "Other work"), *Kind.choices], required=False)
    what = forms.CharField(
        label="What was done", max_length=200, required=False, help_text="Where it is none of the steps."
    )
    hours = DecimalFormField(
        label="Hours",
        required=False,
        min_value=Decimal("0.05"),
        max_value=24,
        max_digits=6,
        decimal_places=4,
        help_text="Without breaks. May stay empty where both times are typed.",
        error_messages=_HOURS_WORDS,
    )
    starts = _time_field("From")
    ends = _time_field("To")
    next_day = forms.BooleanField(label="It ended on the next day", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people_of(organisation=self.organisation)


class PeopleForm(OrgForm):
    people = RowsField(
        label="Who worked",
        queryset=Person.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose who worked."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["people"].queryset = people_of(organisation=self.organisation)


class TakeBackForm(OrgForm):
    reason = forms.CharField(
        label="Why",
        max_length=200,
        error_messages={"required": "Say why in a few words, for example: typed for the wrong house."},
    )


class EquipmentDayForm(_OfAHouseOrJob):
    equipment = forms.ModelChoiceField(label="What was used", queryset=Equipment.objects.none())
    day = day_field()
    house = _house_field()
    job = _job_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = Equipment.objects.of(self.organisation).filter(archived_at=None).select_related("bender")
        self.fields["equipment"].queryset = rows


class TripForm(_OfAHouseOrJob):
    general = True

    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none())
    day = day_field()
    times = WholeFormField(
        label="Trips, there and back", min_value=1, max_value=MAX_TIMES, initial=1, error_messages=_TIMES_WORDS
    )
    house = _house_field("Without a house or a job it is a general expense.")
    job = _job_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites_of(organisation=self.organisation)


class _RateForm(OrgForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)


class PayRateForm(_RateForm):
    person = forms.ModelChoiceField(
        label="Person", queryset=Person.objects.none(), required=False, empty_label="Everybody, or a crew"
    )
    crew = forms.ModelChoiceField(
        label="Crew",
        queryset=Crew.objects.none(),
        required=False,
        empty_label="No crew",
        help_text="Its people who have no rate of their own. Without a person or crew it is of everybody else.",
    )
    an_hour = MoneyField(label="Cost of an hour", error_messages={"required": "Type what an hour costs."})
    since = day_field("From this day on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people_of(organisation=self.organisation)
        self.fields["crew"].queryset = crews_of(organisation=self.organisation)


class EquipmentRateForm(_RateForm):
    bender = forms.ModelChoiceField(
        label="Bender", queryset=Bender.objects.none(), required=False, empty_label="Something else"
    )
    name = forms.CharField(
        label="What else", max_length=120, required=False, help_text="For example post driver. Empty for a bender."
    )
    a_day = MoneyField(label="Price of a day", error_messages={"required": "Type the price of a day."})
    since = day_field("From this day on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bender"].queryset = Bender.objects.of(self.organisation).filter(archived_at=None)


class TripRateForm(_RateForm):
    site = forms.ModelChoiceField(
        label="Site", queryset=Site.objects.none(), required=False, empty_label="Every site without its own price"
    )
    each = MoneyField(label="Price of a trip", error_messages={"required": "Type the price of a trip."})
    since = day_field("From this day on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites_of(organisation=self.organisation)
