"""The form of a recipe. Whether the hoop can be made is decided by the services, not here."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from farmbuild.common.form_parts import plain_counts
from farmbuild.common.forms import OrgModelForm
from farmbuild.hoops.models import Recipe
from farmbuild.hoops.services import FIELDS

_LEAST = Decimal("25.4")
_MAY_BE_EMPTY = ("insertion", "first_mark", "stop_gap")


class RecipeForm(OrgModelForm):
    groups = [
        ("Hoop", ["name"]),
        ("Pipe", ["tube", "stick_length", "sticks", "insertion"]),
        ("Bending", ["radius", "first_mark", "pitch", "stop_gap"]),
    ]

    class Meta:
        model = Recipe
        fields = FIELDS
        error_messages = {
            "name": {"required": "Type what the recipe is called, for example 12 ft hoop."},
            "tube": {"required": "Choose the pipe that is bent."},
            "stick_length": {"required": "Type the length of one stick, for example 10'."},
            "radius": {"required": "Type the radius that the bender makes, to the centreline of the pipe."},
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plain_counts(self)
        self.fields["tube"].empty_label = "Choose a pipe"
        for name in ("stick_length", "radius", "pitch"):
            self.fields[name].minimum = _LEAST
        for name in _MAY_BE_EMPTY:
            self.fields[name].required = False

    def clean(self) -> dict[str, Any]:
        """An empty insertion, first mark or stop gap is none."""
        data = super().clean()
        for name in _MAY_BE_EMPTY:
            if name in data and data[name] is None:
                data[name] = Decimal(0)
        return data
