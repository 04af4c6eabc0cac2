"""Forms of stages and bills."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

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

_HOW = gettext_lazy("Type a stage like this: Posts stand 30")
#: What a job without stages begins with.
USUAL = (
    (gettext_lazy("On acceptance"), Decimal(30)),
    (gettext_lazy("Hoops stand"), Decimal(40)),
    (gettext_lazy("Finished"), Decimal(30)),
)


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
                raise ValidationError(
                    gettext("“%(line)s” has no percent at its end. %(how)s") % {"line": line, "how": _HOW}
                ) from error
            if not name.strip():
                raise ValidationError(gettext("“%(line)s” has no name. %(how)s") % {"line": line, "how": _HOW})
            if len(name) > Stage._meta.get_field("name").max_length:
                raise ValidationError(gettext("A name is up to 120 letters long."))
            if percent.as_tuple().exponent < -3 or percent > 100:
                raise ValidationError(
                    gettext("“%(line)s” has no percent up to 100 with up to three decimals.") % {"line": line}
                )
            found.append((name.strip(), percent))
        check_stages(found)
        return found


class StagesForm(OrgForm):
    rows = StagesField(
        label=gettext_lazy("Stages"),
        help_text=gettext_lazy("A line each: what is reached, and the percent of the price. They make 100 together."),
        error_messages={"required": _HOW},
    )
    kept_percent = DecimalFormField(
        label=gettext_lazy("Kept back until the end, percent"),
        min_value=0,
        max_value=Decimal("99.999"),
        max_digits=6,
        decimal_places=3,
        initial=Decimal(0),
        help_text=gettext_lazy("Of each bill, until the last one."),
        error_messages={
            "max_value": gettext_lazy("What is kept back is less than 100 percent."),
            "min_value": gettext_lazy("Type 0 or more."),
        }
        | NUMBER_WORDS,
    )
    pay_days = WholeFormField(
        label=gettext_lazy("Days to pay in"),
        min_value=0,
        max_value=366,
        initial=30,
        error_messages={
            "max_value": gettext_lazy("Type 366 days or fewer."),
            "min_value": gettext_lazy("Type 0 or more."),
        },
    )


class BillForm(OrgForm):
    """``asks_amount``: of a stage, whose amount may be another than its percent comes to."""

    amount = MoneyField(label=gettext_lazy("Amount before tax"), required=True)
    day = DayField(label=gettext_lazy("Day of the bill"))

    def __init__(self, *args: Any, asks_amount: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not asks_amount:
            del self.fields["amount"]


class CreditForm(OrgForm):
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why in a few words, for example: wrong stage.")},
    )


class PeriodForm(OrgForm):
    """Of which days, and of which job; all are left empty for everything."""

    first = DayField(label=gettext_lazy("From"), required=False)
    last = DayField(label=gettext_lazy("To"), required=False)
    job = forms.ModelChoiceField(
        Job.objects.none(),
        label=gettext_lazy("Job"),
        required=False,
        empty_label=gettext_lazy("All jobs"),
        to_field_name="number",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["job"].queryset = accepted_jobs_of(organisation=self.organisation)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("first") and data.get("last") and data["first"] > data["last"]:
            self.add_error("last", gettext("The last day is before the first."))
        return data

    def narrow(self) -> dict[str, Any]:
        """What is asked for; a field that cannot be read asks for nothing."""
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value}


def begin_bill(amount: Decimal | None) -> dict[str, Any]:
    return {"amount": amount, "day": today()}
