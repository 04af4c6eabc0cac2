"""One press on the list of a day."""

from __future__ import annotations

from typing import Any

from django import forms

from farmbuild.crew.daylist.services import DONE, MOST_DONE, START, STOP

WRONG = ("invalid", "min_value", "max_value")


class TickForm(forms.Form):
    key = forms.UUIDField(error_messages={"invalid": "Load the page again and press once more."})
    what = forms.ChoiceField(choices=[(what, what) for what in (START, STOP, DONE)])
    person = forms.SlugField(required=False)
    at = forms.DateTimeField(required=False, error_messages={"invalid": "Load the page again and press once more."})
    done = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=MOST_DONE,
        error_messages=dict.fromkeys(WRONG, f"Type how many were done as a whole number from 0 to {MOST_DONE:,}."),
    )
    people = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=50,
        error_messages=dict.fromkeys(WRONG, "Type how many people were at it, from 1 to 50."),
    )
    problem = forms.CharField(required=False, max_length=400)

    def words(self) -> str:
        return " ".join(error for errors in self.errors.values() for error in errors)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        data["done"], data["people"] = data.get("done") or 0, data.get("people") or 1
        return data
