"""Forms of jobs, their ground and its photos."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.crew.problems.forms import ACCEPT, PhotoInput
from farmbuild.crew.problems.pictures import MAX_BYTES, Picture, read_picture
from farmbuild.quotes.jobs.services import marked_problems
from farmbuild.quotes.models import MAX_PHOTOS, Job, Survey


class JobForm(OrgModelForm):
    class Meta:
        model = Job
        fields = ["customer", "name", "site", "note"]
        labels = {"customer": gettext_lazy("Customer"), "site": gettext_lazy("Site"), "note": gettext_lazy("Note")}
        widgets = {"note": forms.Textarea(attrs={"rows": 4})}
        help_texts = {"site": gettext_lazy("Where it is to stand, once you have it as a site.")}
        error_messages = {
            "customer": {"required": gettext_lazy("Choose the customer.")},
            "name": {"required": gettext_lazy("Type what is wanted, for example Two growing houses.")},
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("customer", "site"):
            kept = Q(archived_at=None) | Q(pk=getattr(self.instance, f"{name}_id"))
            self.fields[name].queryset = self.fields[name].queryset.filter(kept)


class LostForm(OrgForm):
    because = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why in a few words, for example: too dear, or no answer.")},
    )


class SurveyForm(OrgModelForm):
    looked_on = DayField(label=gettext_lazy("Looked at on"), required=False)
    marked_on = DayField(label=gettext_lazy("Marked on"), required=False)

    groups = (
        (
            gettext_lazy("The ground"),
            ["looked_on", "looked_by", "ground_span", "ground_length", "slope", "soil", "access"],
        ),
        (gettext_lazy("Lines"), ["overhead", "overhead_note", "buried", "marked_on", "marked_by"]),
        (gettext_lazy("Note"), ["note"]),
    )

    class Meta:
        model = Survey
        fields = [
            *("looked_on", "looked_by", "ground_span", "ground_length", "slope", "soil", "access"),
            *("overhead", "overhead_note", "buried", "marked_on", "marked_by", "note"),
        ]
        labels = {"soil": gettext_lazy("Soil"), "access": gettext_lazy("Access"), "note": gettext_lazy("Note")}
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        error_messages = {
            "slope": {"max_whole_digits": gettext_lazy("Type a slope from 0 to 100 percent.")},
        }

    def clean_slope(self) -> Any:
        slope = self.cleaned_data["slope"]
        if slope is not None and not 0 <= slope <= 100:
            raise ValidationError(gettext("Type a slope from 0 to 100 percent."))
        return slope

    def clean(self) -> dict[str, Any]:
        """Said at the field here, where the guard of the database would say it of the whole row."""
        data = super().clean()
        if {"buried", "marked_by"} <= data.keys() and "marked_on" not in self.errors:
            for name, words in marked_problems(data["buried"], data.get("marked_on"), data["marked_by"]).items():
                self.add_error(name, words)
        return data


class GroundPhotosField(forms.FileField):
    """Up to MAX_PHOTOS files; gives a list of ``Picture``."""

    widget = PhotoInput(attrs={"accept": ACCEPT, "multiple": True})

    def clean(self, data: Any, initial: Any = None) -> list[Picture]:
        files = [file for file in data or [] if file]
        if not files:
            raise ValidationError(gettext("Choose a photo."))
        if len(files) > MAX_PHOTOS:
            raise ValidationError(
                gettext("Up to %(most)s photos go with one job. Choose fewer.") % {"most": MAX_PHOTOS}
            )
        # One byte more than is allowed is enough to refuse it.
        return [read_picture(file.read(MAX_BYTES + 1), f"“{file.name}”") for file in files]


class GroundPhotosForm(OrgForm):
    photos = GroundPhotosField(label=gettext_lazy("Photos of the ground"))
    caption = forms.CharField(label=gettext_lazy("What they show"), max_length=120, required=False)
