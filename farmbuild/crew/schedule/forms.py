"""Forms of work that slips."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.fields import CountField
from farmbuild.common.forms import OrgForm
from farmbuild.crew.models import MAX_OWN_MINUTES
from farmbuild.crew.people.forms import DayField
from farmbuild.orgs.clock import zone_of


class NotBeforeForm(OrgForm):
    day = DayField(label=gettext_lazy("Earliest start"), required=False, help_text=gettext_lazy("Empty: any day."))


class LengthForm(OrgForm):
    """Hours and minutes, both empty for none; ``cleaned_data["length"]`` is their sum, ``seen`` what was shown."""

    hours = CountField(label=gettext_lazy("Hours"), required=False, least=0, most=MAX_OWN_MINUTES // 60)
    minutes = CountField(label=gettext_lazy("Minutes"), required=False, least=0, most=59)
    seen = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            parts = data.get("hours"), data.get("minutes")
            data["length"] = None if parts == (None, None) else (parts[0] or 0) * 60 + (parts[1] or 0)
        return data


class UntilForm(OrgForm):
    """``cleaned_data["ends_at"]``: by the clocks of the organisation."""

    day = DayField(label=gettext_lazy("Done by, day"))
    clock = forms.TimeField(
        label=gettext_lazy("Done by, time"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages=dict.fromkeys(
            ("required", "invalid"), gettext_lazy("Type the time by the clock, for example 14:30.")
        ),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            zone = zone_of(organisation=self.organisation)
            data["ends_at"] = datetime.combine(data["day"], data["clock"], zone)
        return data
