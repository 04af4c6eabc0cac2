"""One press on the list of a day."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.number_fields import DecimalFormField, WholeFormField, when_said
from farmbuild.crew.actuals.services import MAX_DONE, PRESSES, how_many_words
from farmbuild.crew.models import Task
from farmbuild.crew.problems.forms import PhotosField
from farmbuild.crew.problems.services import NO_WORDS
from farmbuild.measure import by_sign

WRONG = ("invalid", "min_value", "max_value")
AGAIN = _("Load the page again and press once more.")
MAX_WORDS = 400


class TickForm(forms.Form):
    key = forms.UUIDField(widget=forms.HiddenInput, error_messages={"invalid": AGAIN, "required": AGAIN})
    what = forms.ChoiceField(choices=[(what, what) for what in PRESSES])
    person = forms.SlugField(required=False)
    at = forms.DateTimeField(required=False, error_messages={"invalid": AGAIN})
    done = WholeFormField(
        required=False,
        min_value=0,
        max_value=MAX_DONE,
        widget=forms.TextInput,
        error_messages=dict.fromkeys(
            WRONG,
            when_said(how_many_words),
        ),
    )
    people = WholeFormField(
        label=_("People at it"),
        required=False,
        min_value=1,
        max_value=50,
        widget=forms.TextInput,
        error_messages=dict.fromkeys(WRONG, _("Type how many people were at it, from 1 to 50.")),
    )
    hours = DecimalFormField(
        label=_("Hours it took"),
        required=False,
        min_value=Decimal("0.05"),
        max_value=24,
        widget=forms.TextInput,
        error_messages=dict.fromkeys(
            WRONG, when_said(lambda: by_sign(gettext("Type the hours as a number from 0.05 to 24, for example 2.5.")))
        ),
    )
    problem = forms.CharField(
        label=_("Anything wrong"),
        required=False,
        max_length=MAX_WORDS,
        error_messages={"max_length": _("Say what is wrong in at most %(limit_value)s letters.")},
    )
    photos = PhotosField(label=_("Photos of it"), required=False)

    def __init__(self, *args: Any, task: Task, unit: str, counted: bool = False, **kwargs: Any) -> None:
        """``unit``: what the task is counted in, for many; ``counted``: a batch counts it, so nobody is asked."""
        super().__init__(*args, auto_id=f"%s-{task.pk}", **kwargs)
        self.fields["done"].label = gettext("Done now, %(unit)s") % {"unit": unit}
        rest = max(0, task.count - task.done)
        self.fields["done"].widget.attrs |= {"inputmode": "numeric", "autocomplete": "off", "placeholder": rest}
        if counted:
            self.fields["done"].widget = forms.HiddenInput()
        self.fields["people"].widget.attrs |= {"inputmode": "numeric", "autocomplete": "off"}
        self.fields["hours"].widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}
        self.fields["problem"].widget.attrs |= {"autocomplete": "off"}

    @property
    def photos_sent(self) -> bool:
        """A browser does not keep chosen files when a page comes back."""
        return any(self.files.getlist("photos")) if self.is_bound and self.files else False

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        data["done"], data["people"] = data.get("done") or 0, data.get("people") or 1
        data["minutes"] = round(data["hours"] * 60) if data.get("hours") else None
        if data.get("photos") and not data.get("problem") and "problem" not in self.errors:
            self.add_error("problem", NO_WORDS)
        return data
