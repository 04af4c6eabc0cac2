"""What narrows the history; every field may be left out."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.forms import OrgForm
from farmbuild.common.speaking import in_order
from farmbuild.history.kept import kinds
from farmbuild.history.selectors import people_of
from farmbuild.history.words import said_name

_DAYS = [MinValueValidator(date(2000, 1, 1)), MaxValueValidator(date(2100, 1, 1))]


class _Day(forms.DateField):
    def __init__(self, label: str) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(label=label, required=False, widget=widget, validators=_DAYS)


class HistoryFilter(OrgForm):
    user = forms.TypedChoiceField(label=gettext_lazy("Who"), required=False, coerce=int, empty_value=None)
    kind = forms.ChoiceField(label=gettext_lazy("What"), required=False)
    since = _Day(gettext_lazy("From"))
    until = _Day(gettext_lazy("To"))
    record = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1, max_value=2**63 - 1)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = people_of(organisation=self.organisation)
        self.fields["user"].choices = [("", gettext("Everybody")), *((user.pk, user.display_name) for user in people)]
        names = ((kind, said_name(kept.title)) for kind, kept in kinds().items())
        names = sorted(
            ((kind, f"{name[:1].upper()}{name[1:]}") for kind, name in names), key=lambda one: in_order(one[1])
        )
        self.fields["kind"].choices = [("", gettext("Everything")), *names]

    def narrow(self) -> dict[str, Any]:
        """What was said, for ``selectors.narrowed``; what cannot be read narrows nothing."""
        data = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        return {name: value for name, value in data.items() if value not in (None, "")}
