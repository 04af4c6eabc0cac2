"""Photos as they are sent, and the words for taking one away and for putting a problem right."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from farmbuild.common.forms import OrgForm
from farmbuild.crew.models import MAX_PHOTOS
from farmbuild.crew.problems.pictures import MAX_BYTES, Picture, read_picture
from farmbuild.crew.problems.services import TOO_MANY

ACCEPT = "image/jpeg,image/png,image/webp"


class PhotoInput(forms.FileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Up to MAX_PHOTOS files from any inputs of this name; gives a list of ``Picture``."""

    widget = PhotoInput(attrs={"accept": ACCEPT})

    def clean(self, data: Any, initial: Any = None) -> list[Picture]:
        files = [file for file in data or [] if file]
        if len(files) > MAX_PHOTOS:
            raise ValidationError(TOO_MANY)
        pictures, errors = [], []
        for file in files:
            try:
                # One byte more than is allowed is enough to refuse it.
                pictures.append(read_picture(file.read(MAX_BYTES + 1), f"“{file.name}”"))
            except ValidationError as error:
                errors += error.messages
        if errors:
            raise ValidationError(errors)
        return pictures


class RemovePhotoForm(OrgForm):
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        help_text=_("The photo is gone for good. That there was one, and why it was removed, stays."),
        error_messages={"required": _("Say why in a few words, for example: it shows another house.")},
    )


class AddPhotosForm(OrgForm):
    photos = PhotosField(
        label=_("Photos of it"),
        widget=PhotoInput(attrs={"accept": ACCEPT, "multiple": True}),
        error_messages={"required": _("Choose a photo.")},
    )


class ResolveForm(OrgForm):
    how = forms.CharField(
        label=_("How it was corrected"),
        max_length=400,
        error_messages={"required": _("Say in a few words how, for example: bent again and checked on the floor.")},
    )
