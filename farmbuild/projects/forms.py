"""Sending a project workbook."""

from __future__ import annotations

from typing import Any

from django import forms

from farmbuild.common.forms import OrgForm
from farmbuild.measure import format_count
from farmbuild.projects.intake import MOST_LOTS, MOST_ROWS
from farmbuild.projects.services import MAX_BYTES


class ProjectForm(OrgForm):
    file = forms.FileField(
        label="Project workbook",
        max_length=200,
        widget=forms.FileInput(attrs={"accept": ".xlsx"}),
        error_messages={
            "required": "Choose the project workbook to read.",
            "empty": "This file is empty. Choose a filled project workbook.",
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].help_text = (
            f".xlsx, up to {format_count(MOST_ROWS)} rows, {format_count(MOST_LOTS)} lots and"
            f" {MAX_BYTES // 1024**2} MB. Nothing is stored before you have seen what it does."
        )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MAX_BYTES:
            raise forms.ValidationError(
                f"This file is larger than {MAX_BYTES // 1024**2} MB. Split it into smaller workbooks."
            )
        return file
