"""Forms of rates, quotes, options, their houses and lines."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.functional import keep_lazy_text
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import MoneyField, use_organisation
from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import DecimalFormField, WholeFormField
from farmbuild.quotes.models import Option, Quote, QuoteLine, QuoteRates
from farmbuild.quotes.pricing.services import RATES
from farmbuild.quotes.tied import NAMES, NUMBER_WORDS, TiedFields
from farmbuild.sites.bridge import SPEC_FIELDS
from farmbuild.sites.forms import OPEN, HouseForm

NEGATIVE = gettext_lazy("Type 0 or more.")
_GROUPS = (
    (gettext_lazy("Work"), ["labour", "overhead", "people", "day_hours"]),
    (gettext_lazy("Equipment and trips"), ["bender_day", "trip"]),
    (gettext_lazy("Price"), ["contingency", "margin", "waste", "yard"]),
    (gettext_lazy("Tax"), ["tax_materials", "tax_work", "tax_equipment"]),
    (gettext_lazy("Words"), ["valid_days", "exclusions"]),
)


lower = keep_lazy_text(lambda text: str(text).lower())


def _money(label: str, help_text: str = "") -> MoneyField:
    return MoneyField(
        label=label,
        help_text=help_text,
        error_messages={"required": format_lazy(gettext_lazy("Type the price for {what}, or 0."), what=lower(label))},
    )


class _RatesForm(OrgModelForm):
    groups = _GROUPS

    labour = _money(gettext_lazy("Labour, an hour"), gettext_lazy("Wages with all that goes with them."))
    overhead = _money(
        gettext_lazy("Overhead, an hour"),
        gettext_lazy("Office, insurance and the like, spread over the hours of work."),
    )
    bender_day = _money(gettext_lazy("Bender, a day"))
    trip = _money(gettext_lazy("Trip"), gettext_lazy("There and back once."))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)
        for field in self.fields.values():
            if isinstance(field, DecimalFormField):
                field.error_messages |= NUMBER_WORDS
        use_organisation(self, self.organisation)


class RatesForm(_RatesForm):
    class Meta:
        model = QuoteRates
        fields = list(RATES)
        widgets = {"exclusions": forms.Textarea(attrs={"rows": 4})}


class QuoteForm(_RatesForm):
    """The rates of one quote, and what it says to the customer."""

    groups = (*_GROUPS[:-1], (gettext_lazy("Words"), ["valid_days", "exclusions", "note"]))

    class Meta:
        model = Quote
        fields = [*RATES, "note"]
        widgets = {"exclusions": forms.Textarea(attrs={"rows": 4}), "note": forms.Textarea(attrs={"rows": 4})}


class OptionForm(OrgForm):
    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=80,
        error_messages={"required": gettext_lazy("Type a name, for example Longer.")},
    )
    like = forms.ModelChoiceField(
        Option.objects.none(),
        label=gettext_lazy("Begin like"),
        required=False,
        empty_label=gettext_lazy("Empty: no houses and no lines"),
        help_text=gettext_lazy("Then change a field or two of its house."),
    )

    def __init__(self, *args: Any, quote: Quote, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["like"].queryset = Option.objects.filter(quote=quote)


class RenameForm(OrgForm):
    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=80,
        error_messages={"required": gettext_lazy("Type a name, for example Longer.")},
    )


class OptionHouseForm(HouseForm):
    """A house of an option: the fields of a house but its site and its day."""

    need_date = None
    asked = ("name", "quantity", *(name for name in OPEN if name not in ("name", "site", "need_date")))

    quantity = WholeFormField(
        label=gettext_lazy("How many such houses"),
        min_value=1,
        max_value=200,
        initial=1,
        error_messages={"min_value": gettext_lazy("Type 1 or more."), "max_value": gettext_lazy("Type 200 or less.")},
    )

    class Meta(HouseForm.Meta):
        fields = ["name", *SPEC_FIELDS]

    def __init__(self, *args: Any, initial: dict[str, Any], **kwargs: Any) -> None:
        # What the house begins with has columns of a house alone.
        columns = {name: value for name, value in initial.items() if name != "quantity"}
        super().__init__(*args, initial=columns, **kwargs)
        self.fields["quantity"].initial = initial.get("quantity", 1)


class LineForm(TiedFields, OrgModelForm):
    """A line that is added, or one to type over; of hours the price is that of the quote."""

    groups = (TiedFields.tied_group,)

    class Meta:
        model = QuoteLine
        fields = ["kind", "what", "quantity", "price", "source", "left_out"]

    kind = forms.ChoiceField(label=gettext_lazy("Kind"), choices=QuoteLine.Kind.choices)
    what = forms.CharField(
        label=gettext_lazy("What"),
        max_length=240,
        required=False,
        help_text=gettext_lazy("Empty: the name of the material or kind of work chosen below."),
    )
    quantity = DecimalFormField(
        label=gettext_lazy("Quantity, or hours"),
        min_value=0,
        max_digits=11,
        decimal_places=3,
        error_messages={
            "min_value": NEGATIVE,
            "required": gettext_lazy("Type how many, or how many hours."),
        }
        | NUMBER_WORDS,
    )
    price = MoneyField(
        label=gettext_lazy("Price of one"),
        required=False,
        help_text=gettext_lazy("Of hours none: they cost the rates of the quote."),
    )
    source = forms.CharField(
        label=gettext_lazy("Where the price comes from"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("For example: phone call."),
    )
    left_out = forms.BooleanField(label=gettext_lazy("Leave it out of the price"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)
        if self.instance.key:
            # It follows from the houses what it is.
            for name in ("kind", "what", *NAMES):
                del self.fields[name]
            if self.instance.kind == QuoteLine.Kind.HOURS:
                del self.fields["price"]
        else:
            self.offer_materials()
            for name in NAMES:
                self.initial.setdefault(name, getattr(self.instance, name))
        if self.instance._state.adding:
            del self.fields["left_out"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("kind") == QuoteLine.Kind.HOURS:
            data["price"] = None
        elif "price" in data and data["price"] is None:
            self.add_error("price", gettext("Type the price of one."))
        return data

    def typed(self) -> str:
        """What was sent, for where the line is gone by now."""
        shown = ((name, field) for name, field in self.fields.items() if name != "material")
        sent = ((field.label, self.data.get(self.add_prefix(name), "")) for name, field in shown)
        return ", ".join(f"{label}: {text}" for label, text in sent if label and text.strip() and text != "on")
