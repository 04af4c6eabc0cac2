"""What a typed line of a quote or change order is of, so that what the job uses is held against it.

A material with the length of one piece, or a kind of work; either may be left out, and then the line is found by what
it is called.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.models import Material, check_length
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import when_said
from farmbuild.crew.models import Kind as Step
from farmbuild.measure import by_sign, format_length
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import QuoteLine
from farmbuild.stock.forms import grouped_materials

_OF_MATERIALS = (QuoteLine.Kind.GOODS, QuoteLine.Kind.CHARGE)
NAMES = ("material", "length", "step")
NUMBER_WORDS = dict.fromkeys(
    ("invalid", "max_digits", "max_decimal_places", "max_whole_digits"),
    when_said(lambda: by_sign("Type a plain number of up to three decimals, for example 12 or 3.25.")),
)


def check_tied(*, kind: str, material: Material | None, length: Decimal | None, step: str) -> None:
    """Raise ValidationError by field where a line of this kind is of no such thing."""
    if material and kind not in _OF_MATERIALS:
        raise ValidationError({"material": gettext("Only materials and charges are of a material. Leave it empty.")})
    if length is not None and not material:
        raise ValidationError({"length": gettext("Choose the material that is so long, or leave it empty.")})
    if material:
        check_length(material, length)
    if step and kind != QuoteLine.Kind.HOURS:
        raise ValidationError({"step": gettext("Only hours are of a kind of work. Leave it empty.")})
    if step and step not in Step.values:
        raise ValidationError({"step": gettext("Choose one from the list.")})


def name_of(organisation: Organisation, *, material: Material | None, length: Decimal | None, step: str) -> str:
    """What such a line is called where nobody typed another name; empty of one that is of nothing."""
    if material:
        return str(material) if length is None else f"{material}, {format_length(length, organisation.unit_system)}"
    return Step(step).label if step in Step.values else ""


class TiedFields(OrgForm):
    """For a form of lines that has ``kind`` and ``what``."""

    tied_group = (gettext_lazy("What it is held against, once it is built"), list(NAMES))

    material = forms.ModelChoiceField(Material.objects.all(), label=gettext_lazy("Material"), required=False)
    length = LengthFormField(
        label=gettext_lazy("Length of one piece"),
        required=False,
        help_text=gettext_lazy("Leave empty for counted things."),
    )
    step = forms.ChoiceField(
        label=gettext_lazy("Kind of work"),
        choices=[("", gettext_lazy("Other work")), *Step.choices],
        required=False,
        help_text=gettext_lazy("Of hours alone."),
    )

    def offer_materials(self) -> None:
        self.fields["material"].choices = grouped_materials(self.organisation)
        self.fields["material"].help_text = gettext("What you issue of it from stock is held against this line.")

    def clean(self) -> dict[str, Any]:
        """Where no name was typed, that of the material or the kind of work is taken."""
        data = super().clean()
        if "what" in self.fields and not data.get("what") and "what" not in self.errors:
            data["what"] = name_of(
                self.organisation,
                material=data.get("material"),
                length=data.get("length"),
                step=data.get("step", ""),
            )
            if not data["what"]:
                self.add_error("what", gettext("Type what it is."))
        return data
