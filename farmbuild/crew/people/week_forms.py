"""The form of a week: up to two stretches of hours each day."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.forms import OrgForm
from farmbuild.crew.bridge import Hours
from farmbuild.crew.models import WorkWeek
from farmbuild.crew.people.rules import NO_HOURS, hour_problems
from farmbuild.crew.people.words import DAYS

STRETCHES = 2
_LABELS = {
    (0, "starts"): gettext_lazy("From"),
    (0, "ends"): gettext_lazy("To"),
    (1, "starts"): gettext_lazy("And from"),
    (1, "ends"): gettext_lazy("To"),
}
_USUAL = (("07:00", "12:00"), ("12:30", "16:00"))
_INVALID = gettext_lazy("Type a time as hours and minutes, for example 07:30 or 16:00.")


def box(day: int, stretch: int, name: str) -> str:
    return f"day{day}_{stretch}_{name}"


class WeekForm(OrgForm):
    """``cleaned_data["hours"]`` is the list of Hours. A week of more stretches a day than there are boxes has more."""

    name = forms.CharField(
        label=gettext_lazy("Name of the week"),
        max_length=80,
        error_messages={"required": gettext_lazy("Type what this week is called, for example Spring week.")},
    )

    def __init__(self, *args: Any, week: WorkWeek | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        stored: dict[int, list[Any]] = {day: [] for day in range(7)}
        for row in week.hours.all() if week else ():
            stored[row.day].append((row.starts, row.ends))
        if week is None:
            stored |= {day: list(_USUAL) for day in range(5)}
        else:
            self.fields["name"].initial = week.name
        self.stretches = max(STRETCHES, *(len(spans) for spans in stored.values()))
        for day, spans in stored.items():
            for stretch in range(self.stretches):
                for at, name in enumerate(("starts", "ends")):
                    self.fields[box(day, stretch, name)] = forms.TimeField(
                        label=f"{_LABELS[min(stretch, 1), name]}",
                        required=False,
                        initial=spans[stretch][at] if stretch < len(spans) else None,
                        widget=forms.TimeInput(attrs={"type": "time", "step": 900}, format="%H:%M"),
                        error_messages={"invalid": f"{DAYS[day]}: {_INVALID}"},
                    )

    @property
    def days(self) -> list[tuple[str, list[Any]]]:
        """Each day of the week with its boxes."""
        return [
            (
                label,
                [self[box(day, stretch, name)] for stretch in range(self.stretches) for name in ("starts", "ends")],
            )
            for day, label in enumerate(DAYS)
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        places, hours = [], []
        for day, label in enumerate(DAYS):
            for stretch in range(self.stretches):
                names = {name: box(day, stretch, name) for name in ("starts", "ends")}
                starts, ends = (data.get(names[name]) for name in ("starts", "ends"))
                if any(name in self.errors for name in names.values()) or (starts is None and ends is None):
                    continue
                if starts is None or ends is None:
                    missing = "starts" if starts is None else "ends"
                    words = (
                        gettext("Type when %(day)s starts too, or empty the other box.")
                        if starts is None
                        else gettext("Type when %(day)s ends too, or empty the other box.")
                    )
                    self.add_error(names[missing], words % {"day": label})
                    continue
                places.append(names)
                hours.append(Hours(day, starts, ends))
        for at, name, words in hour_problems(hours):
            self.add_error(places[at][name], words)
        if not hours and not self.errors:
            self.add_error(None, NO_HOURS)
        data["hours"] = hours
        return data
