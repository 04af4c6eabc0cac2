"""Form fields for money and whole numbers that refuse in one plain sentence."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.catalogue.bridge import read_money
from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.number_fields import WholeFormField
from farmbuild.measure import QuantityError, format_count, parse_quantity, places, typed_as
from farmbuild.orgs.models import Organisation

MAX_MONEY = 10**9


class MoneyInput(forms.TextInput):
    """A text box for an amount; the page script echoes what was understood."""

    template_name = "forms/money_input"


class MoneyField(forms.CharField):
    """Reads 1234.50, 1,234.50 or $12 by the decimal sign; gives a Decimal of at most ``places`` decimals, or None when
    left empty."""

    def __init__(self, *, places: int = 4, empty_value: Decimal | None = None, **kwargs: Any) -> None:
        for unused in ("max_digits", "decimal_places", "max_value", "min_value"):
            kwargs.pop(unused, None)
        kwargs.setdefault("max_length", 30)
        kwargs.setdefault("widget", MoneyInput)
        super().__init__(**kwargs)
        self.places, self.when_empty = places, empty_value
        self.widget.attrs |= {
            "inputmode": "decimal",
            "autocomplete": "off",
            "data-kind": "money",
            "data-places": places,
        }
        self.currency = "USD"

    def use_organisation(self, organisation: Organisation) -> None:
        self.currency = organisation.currency
        self.label = f"{self.label}, {organisation.currency}"

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, Decimal):
            return value
        exact, coin = value.normalize(), Decimal(1).scaleb(-places(self.currency))
        return typed_as(max(exact, exact.quantize(coin), key=lambda shown: -int(shown.as_tuple().exponent)))

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        if text in self.empty_values:
            return self.when_empty
        try:
            amount = read_money(text, self.currency, most_places=self.places)
        except ValueError as error:
            raise ValidationError(str(error), code="unreadable") from error
        if amount >= MAX_MONEY:
            raise ValidationError(
                gettext("Type an amount below %(max_money)s.") % {"max_money": format_count(MAX_MONEY)}, code="outside"
            )
        return amount

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return self.clean(data) != initial
        except ValidationError:
            return True


class CountField(WholeFormField):
    """A whole number from ``least`` to ``most``."""

    widget = forms.TextInput

    def __init__(self, *, least: int = 1, most: int = MAX_QUANTITY, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.least, self.most = least, most
        self.asks = kwargs.get("error_messages", {})
        # Asks for itself in its own words, so a form puts none here.
        self.error_messages["required"] = ""
        self.widget.attrs |= {"inputmode": "numeric", "autocomplete": "off"}

    @property
    def span(self) -> str:
        return gettext("Type a whole number from %(least)s to %(most)s.") % {
            "least": self.least,
            "most": format_count(self.most),
        }

    def to_python(self, value: Any) -> int | None:
        text = "" if value is None else str(value).strip()
        if not text:
            return None
        try:
            return parse_quantity(text, least=self.least, most=self.most)
        except QuantityError as error:
            raise ValidationError(str(error) if error.readings else self.span, code="invalid") from error

    def validate(self, value: Any) -> None:
        if value is None and self.required:
            raise ValidationError(self.asks.get("required", self.span), code="required")


def use_organisation(form: forms.BaseForm, organisation: Organisation) -> None:
    """Tell the form's money fields the currency."""
    for field in form.fields.values():
        if isinstance(field, MoneyField):
            field.use_organisation(organisation)
