"""Forms of stages and bills."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from farmbuild.catalogue.fields import MoneyField
from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import Lines, OrgForm
from farmbuild.common.number_fields import DecimalFormField, WholeFormField
from farmbuild.measure import NumberError, read_decimal, typed_as
from farmbuild.orgs.clock import today
from farmbuild.quotes.bills.selectors import accepted_jobs_of
from farmbuild.quotes.bills.services import check_stages
from farmbuild.quotes.models import Job, Stage
from farmbuild.quotes.tied import NUMBER_WORDS

_HOW = "Type a stage like this: Posts stand 30"
#: What a job without stages begins with.
USUAL = (("On acceptance", Decimal(30)), ("Hoops stand", Decimal(40)), ("Finished", Decimal(30)))


class StagesField(forms.CharField):
    """A stage a line, its percent last; gives (name, percent) of each."""

    widget = Lines(attrs={"rows": 5})

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, str) or value is None:
            return value
        return "\n".join(f"{name} {typed_as(percent.normalize())}" for name, percent in value)

    def clean(self, value: Any) -> list[tuple[str, Decimal]]:
        found = []
        for line in filter(None, (line.strip() for line in super().clean(value).splitlines())):
            name, _, figure = line.rstrip("% ").rpartition(" ")
            try:
                percent = read_decimal(figure)
            except NumberError as error:
                raise ValidationError(f"“{line}” has no percent at its end. {_HOW}") from error
            if not name.strip():
                raise ValidationError(f"“{line}” has no name. {_HOW}")
            if len(name) > Stage._meta.get_field("name").max_length:
                raise ValidationError("A name is up to 120 letters long.")
            if percent.as_tuple().exponent < -3 or percent > 100:
                raise ValidationError(f"“{line}” has no percent up to 100 with up to three decimals.")
            found.append((name.strip(), percent))
        check_stages(found)
        return found


class StagesForm(OrgForm):
    rows = StagesField(
        label="Stages",
        help_text="A line each: what is reached, and the percent of the price. They make 100 together.",
        error_messages={"required": _HOW},
    )
    kept_percent = DecimalFormField(
        label="Kept back until the end, percent",
        min_value=0,
        max_value=Decimal("99.999"),
        max_digits=6,
        decimal_places=3,
        initial=Decimal(0),
        help_text="Of each bill, until the last one.",
        error_messages={"max_value": "What is kept back is less than 100 percent.", "min_value": "Type 0 or more."}
        | NUMBER_WORDS,
    )
    pay_days = WholeFormField(
        label="Days to pay in",
        min_value=0,
        max_value=366,
        initial=30,
        error_messages={"max_value": "Type 366 days or fewer.", "min_value": "Type 0 or more."},
    )


class BillForm(OrgForm):
    """``asks_amount``: of a stage, whose amount may be another than its percent comes to."""

    amount = MoneyField(label="Amount before tax", required=True)
    day = DayField(label="Day of the bill")

    def __init__(self, *args: Any, asks_amount: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not asks_amount:
            del self.fields["amount"]


class CreditForm(OrgForm):
    reason = forms.CharField(
        label="Why",
        max_length=200,
        error_messages={"required": "Say why in a few words, for example: wrong stage."},
    )


class PeriodForm(OrgForm):
    """Of which days, and of which job; all are left empty for everything."""

    first = DayField(label="From", required=False)
    last = DayField(label="To", required=False)
    job = forms.ModelChoiceField(
        Job.objects.none(), label="Job", required=False, empty_label="All jobs", to_field_name="number"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["job"].queryset = accepted_jobs_of(organisation=self.organisation)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("first") and data.get("last") and data["first"] > data["last"]:
            self.add_error("last", "The last day is before the first.")
        return data

    def narrow(self) -> dict[str, Any]:
        """What is asked for; a field that cannot be read asks for nothing."""
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value}


def begin_bill(amount: Decimal | None) -> dict[str, Any]:
    return {"amount": amount, "day": today()}
