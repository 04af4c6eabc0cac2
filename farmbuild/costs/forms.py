"""Forms of time, equipment, trips and their prices."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

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

_DAY_WORDS = dict.fromkeys(("required", "invalid"), gettext_lazy("Type a date, for example 2027-05-12."))
_TIME_WORDS = dict.fromkeys(("required", "invalid"), gettext_lazy("Type a time, for example 07:30."))
_NUMBER = ("required", "invalid", "min_value", "max_value", "max_digits", "max_decimal_places")
_HOURS_WORDS = dict.fromkeys(_NUMBER, gettext_lazy("Type the hours as a number from 0.05 to 24, for example 2.5."))
_TIMES_WORDS = dict.fromkeys(
    _NUMBER, format_lazy(gettext_lazy("Type how many trips it were, from 1 to {most}."), most=MAX_TIMES)
)


def day_field(label: str = gettext_lazy("Day")) -> forms.DateField:
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
                self.fields["house"].required, self.fields["house"].empty_label = True, gettext("Choose one")


def _house_field(help_text: str = "") -> HouseChoiceField:
    return HouseChoiceField(
        label=gettext_lazy("House"),
        empty_label=gettext_lazy("No house"),
        help_text=help_text,
        error_messages={"required": gettext_lazy("Choose the house.")},
    )


def _job_field() -> forms.ModelChoiceField:
    return forms.ModelChoiceField(
        label=gettext_lazy("Or a job as a whole"),
        queryset=PaidTime._meta.get_field("job").related_model.objects.none(),
        required=False,
        empty_label=gettext_lazy("No job"),
    )


class TimeForm(_OfAHouseOrJob):
    person = forms.ModelChoiceField(label=gettext_lazy("Who"), queryset=Person.objects.none())
    day = day_field()
    house = _house_field()
    job = _job_field()
    step = forms.ChoiceField(
        label=gettext_lazy("Step"), choices=[("", gettext_lazy("Other work")), *Kind.choices], required=False
    )
    what = forms.CharField(
        label=gettext_lazy("What was done"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Where it is none of the steps."),
    )
    hours = DecimalFormField(
        label=gettext_lazy("Hours"),
        required=False,
        min_value=Decimal("0.05"),
        max_value=24,
        max_digits=6,
        decimal_places=4,
        help_text=gettext_lazy("Without breaks. May stay empty where both times are typed."),
        error_messages=_HOURS_WORDS,
    )
    starts = _time_field(gettext_lazy("From"))
    ends = _time_field(gettext_lazy("To"))
    next_day = forms.BooleanField(label=gettext_lazy("It ended on the next day"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people_of(organisation=self.organisation)


class PeopleForm(OrgForm):
    people = RowsField(
        label=gettext_lazy("Who worked"),
        queryset=Person.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": gettext_lazy("Choose who worked.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["people"].queryset = people_of(organisation=self.organisation)


class TakeBackForm(OrgForm):
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why in a few words, for example: typed for the wrong house.")},
    )


class EquipmentDayForm(_OfAHouseOrJob):
    equipment = forms.ModelChoiceField(label=gettext_lazy("What was used"), queryset=Equipment.objects.none())
    day = day_field()
    house = _house_field()
    job = _job_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = Equipment.objects.of(self.organisation).filter(archived_at=None).select_related("bender")
        self.fields["equipment"].queryset = rows


class TripForm(_OfAHouseOrJob):
    general = True

    site = forms.ModelChoiceField(label=gettext_lazy("Site"), queryset=Site.objects.none())
    day = day_field()
    times = WholeFormField(
        label=gettext_lazy("Trips, there and back"),
        min_value=1,
        max_value=MAX_TIMES,
        initial=1,
        error_messages=_TIMES_WORDS,
    )
    house = _house_field(gettext_lazy("Without a house or a job it is a general expense."))
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
        label=gettext_lazy("Person"),
        queryset=Person.objects.none(),
        required=False,
        empty_label=gettext_lazy("Everybody, or a crew"),
    )
    crew = forms.ModelChoiceField(
        label=gettext_lazy("Crew"),
        queryset=Crew.objects.none(),
        required=False,
        empty_label=gettext_lazy("No crew"),
        help_text=gettext_lazy(
            "Its people who have no rate of their own. Without a person or crew it is of everybody else."
        ),
    )
    an_hour = MoneyField(
        label=gettext_lazy("Cost of an hour"), error_messages={"required": gettext_lazy("Type what an hour costs.")}
    )
    since = day_field(gettext_lazy("From this day on"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people_of(organisation=self.organisation)
        self.fields["crew"].queryset = crews_of(organisation=self.organisation)


class EquipmentRateForm(_RateForm):
    bender = forms.ModelChoiceField(
        label=gettext_lazy("Bender"),
        queryset=Bender.objects.none(),
        required=False,
        empty_label=gettext_lazy("Something else"),
    )
    name = forms.CharField(
        label=gettext_lazy("What else"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("For example post driver. Empty for a bender."),
    )
    a_day = MoneyField(
        label=gettext_lazy("Price of a day"), error_messages={"required": gettext_lazy("Type the price of a day.")}
    )
    since = day_field(gettext_lazy("From this day on"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bender"].queryset = Bender.objects.of(self.organisation).filter(archived_at=None)


class TripRateForm(_RateForm):
    site = forms.ModelChoiceField(
        label=gettext_lazy("Site"),
        queryset=Site.objects.none(),
        required=False,
        empty_label=gettext_lazy("Every site without its own price"),
    )
    each = MoneyField(
        label=gettext_lazy("Price of a trip"), error_messages={"required": gettext_lazy("Type the price of a trip.")}
    )
    since = day_field(gettext_lazy("From this day on"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites_of(organisation=self.organisation)
