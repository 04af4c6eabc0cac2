"""Sending a project workbook."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.forms import OrgForm
from farmbuild.measure import format_count
from farmbuild.projects.intake import MOST_LOTS, MOST_ROWS
from farmbuild.projects.services import MAX_BYTES


class ProjectForm(OrgForm):
    file = forms.FileField(
        label=gettext_lazy("Project workbook"),
        max_length=200,
        widget=forms.FileInput(attrs={"accept": ".xlsx"}),
        error_messages={
            "required": gettext_lazy("Choose the project workbook to read."),
            "empty": gettext_lazy("This file is empty. Choose a filled project workbook."),
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].help_text = gettext(
            ".xlsx, up to %(most)s rows, %(most2)s lots and %(value)s MB. Nothing is stored before you have "
            "seen what it does."
        ) % {"most": format_count(MOST_ROWS), "most2": format_count(MOST_LOTS), "value": MAX_BYTES // 1024**2}

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MAX_BYTES:
            raise forms.ValidationError(
                gettext("This file is larger than %(value)s MB. Split it into smaller workbooks.")
                % {"value": MAX_BYTES // 1024**2}
            )
        return file
