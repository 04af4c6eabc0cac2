"""Forms of wind limits and forecasts."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import DecimalFormField
from farmbuild.crew.models import WindLimit
from farmbuild.crew.models.wind import FASTEST, SpeedUnit
from farmbuild.crew.people.forms import DayField
from farmbuild.crew.wind.speeds import limit_in, unit_of
from farmbuild.measure import by_sign
from farmbuild.sites.models import Site


class SpeedField(DecimalFormField):
    def __init__(self, least: str, **kwargs: Any) -> None:
        words = by_sign(
            gettext("Type a number from %(least)s to %(fastest)s, with at most one decimal, for example 12.5.")
            % {"least": least, "fastest": FASTEST}
        )
        super().__init__(
            widget=forms.TextInput(attrs={"inputmode": "decimal"}),
            error_messages={"required": words, "invalid": words},
            **kwargs,
        )
        self.validators = [
            MinValueValidator(Decimal(least), words), MaxValueValidator(FASTEST, words), _one_decimal(words)
        ]  # fmt: skip


def _one_decimal(words: str) -> Callable[[Decimal], None]:
    def check(value: Decimal) -> None:
        if value != round(value, 1):
            raise forms.ValidationError(words)

    return check


class UnitForm(OrgForm):
    """Speeds are stored in the unit that the page showed, even where the organisation's changed meanwhile."""

    unit = forms.ChoiceField(choices=SpeedUnit, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = unit_of(organisation=self.organisation)
        sent = self.data.get("unit")
        self.shown = SpeedUnit(sent) if sent in SpeedUnit.values else own
        self.fields["unit"].initial = self.shown
        for field in self.fields.values():
            if isinstance(field, SpeedField):
                field.label = gettext("%(label)s, in %(label_2)s") % {"label": field.label, "label_2": self.shown.label}


class LimitsForm(UnitForm):
    """``limits``: the stored ones by work."""

    def __init__(self, *args: Any, limits: dict[str, WindLimit], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.groups = []
        for work, label in WindLimit.Work.choices:
            row, names = limits.get(work), [f"{work}_speed", f"{work}_measure", f"{work}_source"]
            self.fields[names[0]] = SpeedField(
                "0.1",
                label=gettext("No %(lower)s from this wind on, in %(label)s")
                % {"lower": label.lower(), "label": self.shown.label},
                required=False,
                initial=row and limit_in(row.speed, row.unit, self.shown),
                help_text=gettext("Empty: no limit is set, and every page says so."),
            )
            self.fields[names[1]] = forms.ChoiceField(
                label=gettext("Read against"),
                choices=[("", gettext("Choose one")), *WindLimit.Measure.choices],
                required=False,
                initial=row and row.measure,
                error_messages={"invalid_choice": gettext("This choice is not on the list. Choose one from the list.")},
            )
            self.fields[names[2]] = forms.CharField(
                label=gettext("Whose limit"),
                max_length=200,
                required=False,
                initial=row and row.source,
                help_text=gettext("For example the maker's sheet, or the rule of the farm."),
            )
            self.groups.append((label, names))

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for work in WindLimit.Work.values:
            speed, measure, source = (data.get(f"{work}_{name}") for name in ("speed", "measure", "source"))
            if speed is None:
                if f"{work}_speed" not in self.errors and (measure or source):
                    self.add_error(f"{work}_speed", gettext("Type the speed, or empty the other two fields too."))
                continue
            if not measure:
                self.add_error(
                    f"{work}_measure", gettext("Choose whether the limit is for the mean wind or for gusts.")
                )
            if not source:
                self.add_error(
                    f"{work}_source", gettext("Type where the limit comes from, for example the maker's sheet.")
                )
        return data

    @property
    def limits(self) -> dict[str, dict[str, Any] | None]:
        """As services.set_limits takes them."""
        parts = ("speed", "measure", "source")
        return {
            work: {name: self.cleaned_data[f"{work}_{name}"] for name in parts}
            if self.cleaned_data[f"{work}_speed"] is not None
            else None
            for work in WindLimit.Work.values
        }


class ForecastForm(UnitForm):
    site = forms.ModelChoiceField(label=_("Site"), queryset=Site.objects.filter(archived_at=None))
    day = DayField(label=_("Day"))
    wind = SpeedField("0", label=_("Mean wind"), help_text=_("The highest of the hours you mean to work."))
    gust = SpeedField("0", label=_("Gusts"), required=False, help_text=_("Empty: the forecast gives none."))
    source = forms.CharField(
        label=_("Where you read it"),
        max_length=200,
        help_text=_("Name the forecast and its time."),
        error_messages={"required": _("Type where you read it, for example regional radio at 6 in the morning.")},
    )
