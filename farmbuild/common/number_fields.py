"""Form fields for numbers, read and shown by the decimal sign in force. No other field takes a number that is typed."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.functional import lazy
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy

from farmbuild.common.speaking import kept_words, said
from farmbuild.measure import NumberError, read_decimal, read_whole, typed_as


def when_said(make: Callable[[], str]) -> Any:
    """A sentence of a form class with numbers in it: made each time it is said, as its reader writes them."""
    return lazy(make, str)()


class _TypedNumber:
    """Before a form field of Django: numbers are shown as they can be typed, and refused with what was meant."""

    error_messages: dict[str, str]
    #: What the page script asks how it is understood as, and the keyboard of a phone.
    kind, keyboard = "decimal", "decimal"

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """Of a box alone; what is hidden is typed by nobody."""
        if widget.is_hidden:
            return {}
        return {"data-kind": self.kind, "inputmode": self.keyboard}

    def prepare_value(self, value: Any) -> Any:
        # 6.25, not 6.250: trailing noughts come from the column, not from whoever typed it.
        return typed_as(value.normalize()) if isinstance(value, Decimal) else value

    def refused(self, error: NumberError) -> ValidationError:
        plain = not (error.readings or error.meant)
        return ValidationError(self.error_messages["invalid"] if plain else said(error.sentence), code="invalid")


class DecimalFormField(_TypedNumber, forms.DecimalField):
    """12.5, or 12,5 with a decimal comma."""

    def to_python(self, value: Any) -> Decimal | None:
        if value in self.empty_values or isinstance(value, (Decimal, int)):
            return super().to_python(value)
        if not str(value).strip():
            return None
        try:
            return read_decimal(str(value))
        except NumberError as error:
            raise self.refused(error) from error


class WholeFormField(_TypedNumber, forms.IntegerField):
    """24, 1200, 1 200, or 1,200 where a comma cannot be a decimal sign."""

    kind, keyboard = "count", "numeric"

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or isinstance(value, int):
            return super().to_python(value)
        if not str(value).strip():
            return None
        try:
            return read_whole(str(value))
        except NumberError as error:
            raise self.refused(error) from error


def formfield_by_sign(column: models.Field, **kwargs: Any) -> forms.Field | None:
    """The field of a model form for a column: numbers are read by the decimal sign, and what it is called is said when
    the form is read."""
    kwargs.setdefault("label", capfirst(gettext_lazy(kept_words(column.verbose_name))))
    if isinstance(column, models.IntegerField):
        kwargs.setdefault("form_class", WholeFormField)
    elif type(column) is models.DecimalField:
        kwargs.setdefault("form_class", DecimalFormField)
    return column.formfield(**kwargs)
