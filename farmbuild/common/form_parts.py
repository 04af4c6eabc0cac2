"""Small things that several forms share."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext

from farmbuild.common.number_fields import WholeFormField


def set_integer_messages(form: forms.Form) -> None:
    """Whole numbers of a form refuse in one plain sentence that says what to type."""
    of_model = {row.name: row.validators for row in form._meta.model._meta.fields} if hasattr(form, "_meta") else {}
    for name, field in form.fields.items():
        if type(field) is not WholeFormField or field.widget.is_hidden:
            continue
        checks = [*field.validators, *of_model.get(name, ())]
        bounds = [check for check in checks if isinstance(check, (MaxValueValidator, MinValueValidator))]
        most = min((row.limit_value for row in bounds if isinstance(row, MaxValueValidator)), default=None)
        least = max((row.limit_value for row in bounds if isinstance(row, MinValueValidator)), default=0)
        words = gettext("Type a whole number.")
        if most is not None:
            words = gettext("Type a whole number from %(least)s to %(most)s.") % {"least": least, "most": most}
        field.validators = [
            *(check for check in field.validators if check not in bounds),
            MinValueValidator(least, words),
            *([MaxValueValidator(most, words)] if most is not None else []),
        ]
        field.error_messages |= {"invalid": words, "required": words}
        field.widget.attrs["inputmode"] = "numeric"


def error_words(form: forms.BaseForm) -> str:
    """All that is wrong with it in one line, for whoever has no page to show it at the fields."""
    return " ".join(error for errors in form.errors.values() for error in errors)


def add_service_errors(form: forms.BaseForm, error: ValidationError, **renamed: str) -> None:
    """Put a service's sentences at the form's fields, or above the form. ``renamed``: its field to the form's."""
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for name, errors in error.error_dict.items():
        shown = renamed.get(name, name)
        form.add_error(shown if shown in form.fields else None, errors)
