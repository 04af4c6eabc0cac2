"""Forms of work that slips."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from farmbuild.common.forms import OrgForm
from farmbuild.crew.people.forms import DayField
from farmbuild.orgs.clock import zone_of


class NotBeforeForm(OrgForm):
    day = DayField(label="Earliest start", required=False, help_text="Empty: any day.")


class UntilForm(OrgForm):
    """``cleaned_data["ends_at"]``: by the clocks of the organisation."""

    day = DayField(label="Done by, day")
    clock = forms.TimeField(
        label="Done by, time",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages=dict.fromkeys(("required", "invalid"), "Type the time by the clock, for example 14:30."),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            zone = zone_of(organisation=self.organisation)
            data["ends_at"] = datetime.combine(data["day"], data["clock"], zone)
        return data
