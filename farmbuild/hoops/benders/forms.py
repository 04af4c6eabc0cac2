"""The form of a bender, and the one that asks what it would make. What may be stored is decided by the services."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthFormField
from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.hoops.benders.bridge import INCH, JOINTS, RECIPE_BY_NAME, Joint, join_problems
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import ByUnits


class BenderForm(OrgModelForm):
    groups = [
        ("Bender", ["name", "rated_radius", "rated_span", "tubes"]),
        ("Whose and where", ["owner", "kept_at", "note"]),
    ]

    class Meta:
        model = Bender
        fields = ["name", "rated_radius", "rated_span", "tubes", "owner", "kept_at", "note"]
        widgets = {"tubes": forms.CheckboxSelectMultiple, "note": forms.Textarea(attrs={"rows": 3})}
        error_messages = {
            "name": {"required": "Type what the bender is called, for example the wide bender."},
            "rated_radius": {"required": "Type the radius that its maker states, to the centreline of the pipe."},
            "rated_span": {
                "required": ByUnits(
                    "Type the house span that it is sold for, for example 12'.",
                    "Type the house span that it is sold for, for example 5 m.",
                )
            },
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("rated_radius", "rated_span"):
            self.fields[name].minimum = INCH
        self.fields["tubes"].help_text = "None ticked: any tube."


class MakesForm(OrgForm):
    """Which sticks are bent on it, and for which span."""

    sticks = WholeFormField(label="Sticks in one hoop", min_value=1, max_value=RECIPE_BY_NAME["sticks"].largest)
    stick_length = LengthFormField(label="Length of one stick", minimum=INCH)
    insertion = LengthFormField(
        label="Insertion at each joint", small=True, required=False, help_text="How far the swaged end slides in."
    )
    joint = forms.ChoiceField(label="Joint", choices=JOINTS[:-1], required=False)
    post_span = LengthFormField(
        label="Span wanted between the posts",
        minimum=INCH,
        required=False,
        help_text="Centre to centre. Leave it empty to see only what the sticks make.",
    )
    spring_in = LengthFormField(
        label="Spring-in wanted",
        small=True,
        required=False,
        help_text="How much wider than the posts the free hoop stands. Empty: what its tube and radius allow.",
    )
    tube = forms.ModelChoiceField(
        label="Tube",
        queryset=Material.objects.filter(kind="tube"),
        required=False,
        empty_label="Any tube that joins so",
    )
    radius_from = forms.ChoiceField(
        label="Radius", choices=[("measured", "as measured"), ("rated", "as rated")], required=False
    )

    def __init__(self, *args: Any, measured: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)
        self.fields["stick_length"].cut_of = "tube"
        if not measured:
            del self.fields["radius_from"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        data["insertion"] = data.get("insertion") or Decimal(0)
        data["joint"] = Joint(data.get("joint") or Joint.SWAGE)
        sticks, length, insertion = data.get("sticks"), data.get("stick_length"), data["insertion"]
        if sticks is None or length is None or "insertion" in self.errors:
            return data
        found = join_problems(sticks, length, insertion, data.get("tube"), self.organisation.unit_system, data["joint"])
        for name, messages in found.items():
            self.add_error(name, messages)
        return data
