"""Rows of a house's own: their form below the form of the house, and how one is said."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_in_use, materials_of
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.common.lengths import length_text
from farmbuild.common.number_fields import DecimalFormField
from farmbuild.common.speaking import said
from farmbuild.measure import UnitSystem, format_decimal
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import MAX_NOTE, MAX_ROWS, PER_NAMES, PLACES, WORK_NAMES, Per, own_rows_of
from farmbuild.sites.models import House, HouseOwnRow
from farmbuild.sites.services import OwnRowError

#: What an edit conflict calls them.
NAME = "rows of its own"
SPARE_ROWS = 1
VALUES = ("material", "quantity", "per", "length", "step", "note")
_STEPS = [(kind.value, gettext_lazy(name)) for kind, name in WORK_NAMES.items()]


def own_row_words(row: HouseOwnRow, units: str) -> str:
    """Strap: 2 for each hoop, 6 in long, used in Film (over the tape)."""
    words = gettext("%(material)s: %(quantity)s for each %(each)s") % {
        "material": row.material,
        "quantity": format_decimal(row.quantity.normalize()),
        "each": said(PER_NAMES[Per(row.per)]),
    }
    if row.length:
        words += gettext(", %(length)s long") % {"length": length_text(row.length, units)}
    if row.step:
        words += gettext(", used in %(step)s") % {"step": dict(_STEPS).get(row.step, row.step)}
    return f"{words} ({row.note})" if row.note else words


def own_rows_words(rows: Iterable[HouseOwnRow], units: str) -> str:
    return "; ".join(own_row_words(row, units) for row in rows) or gettext("none")


class OwnRowForm(OrgForm):
    """One row; with nothing chosen or typed it is no row. What it may be is decided by planning."""

    material = forms.ChoiceField(label=gettext_lazy("Material"), required=False)
    quantity = DecimalFormField(
        label=gettext_lazy("Quantity"),
        required=False,
        max_digits=15,
        decimal_places=PLACES,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={
            "invalid": gettext_lazy("Type a quantity as a plain number, for example 2 or 0.5."),
            "max_digits": gettext_lazy("Type a smaller quantity."),
            "max_whole_digits": gettext_lazy("Type a smaller quantity."),
            "max_decimal_places": format_lazy(
                gettext_lazy("Type a quantity with at most {places} decimals."), places=PLACES
            ),
        },
    )
    per = forms.ChoiceField(
        label=gettext_lazy("For each"),
        choices=[(per.value, gettext_lazy(name)) for per, name in PER_NAMES.items()],
        initial=Per.HOUSE.value,
        required=False,
    )
    length = LengthFormField(
        label=gettext_lazy("Length of each piece"),
        small=True,
        required=False,
        help_text=gettext_lazy("Where the material is bought by length."),
    )
    step = forms.ChoiceField(
        label=gettext_lazy("Used in"), required=False, choices=[("", gettext_lazy("No step waits for it")), *_STEPS]
    )
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=MAX_NOTE)
    remove = forms.BooleanField(label=gettext_lazy("Remove this row"), required=False)

    def __init__(self, *args: Any, materials: dict[str, Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.materials = materials
        self._offer_own_length()
        self.fields["material"].choices = [("", gettext("None")), *((key, str(row)) for key, row in materials.items())]

    def _offer_own_length(self) -> None:
        """Feet or metres of house length, as the organisation measures; the other one where the row has it."""
        metric = self.organisation.unit_system == UnitSystem.METRIC
        other, kept = (Per.FOOT if metric else Per.METRE).value, self.initial.get("per")
        sent = self.data.get(self.add_prefix("per")) if self.is_bound else None
        if other not in (kept, sent):
            self.fields["per"].choices = [choice for choice in self.fields["per"].choices if choice[0] != other]

    @property
    def is_row(self) -> bool:
        data = self.cleaned_data
        return not data.get("remove") and any(data.get(name) not in (None, "") for name in VALUES if name != "per")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("remove"):
            # What stands in a row that goes may be anything.
            self._errors.clear()
        return data

    def values(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "material": self.materials.get(data["material"]),
            "quantity": Decimal(0) if data["quantity"] is None else data["quantity"],
            "per": data["per"] or Per.HOUSE.value,
            "length": data["length"] or Decimal(0),
            "step": data["step"],
            "note": data["note"],
        }


class OwnRows(forms.BaseFormSet):
    """The rows below the form of a house. ``problems``: what is wrong with none of them alone; ``asked_more``: the
    form was sent for some more."""

    asked_more = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.problems: list[str] = []

    def rows(self) -> list[OwnRowForm]:
        """Those that say something; after ``is_valid()``."""
        return [form for form in self.forms if form.is_row]

    def values(self) -> list[dict[str, Any]]:
        return [form.values() for form in self.rows()]

    def typed(self) -> list[HouseOwnRow]:
        """As far as they can be read, in the order of the page; as opened, where nothing was sent."""
        if not self.is_bound:
            there = [(row, self.form_kwargs["materials"].get(row["material"])) for row in self.initial or ()]
            found = [
                row | {"material": material, "length": row["length"] or Decimal(0)}
                for row, material in there
                if material
            ]
        else:
            read = [form for form in self.forms if form.is_valid() and set(VALUES) <= form.cleaned_data.keys()]
            right = [form for form in read if form.is_row]
            found = [values for values in (form.values() for form in right) if values["material"]]
        return [HouseOwnRow(position=at, **values) for at, values in enumerate(found)]

    def words(self, units: str) -> str:
        return own_rows_words((HouseOwnRow(**values) for values in self.values() if values["material"]), units)

    def add_errors(self, error: ValidationError) -> ValidationError | None:
        """Put what is wrong with a row at it; what is left is for the form of the house."""
        told = getattr(error, "error_dict", {})
        rows = self.rows() if self.is_bound else []
        for wrong in told.pop("own_rows", []):
            at = wrong.row if isinstance(wrong, OwnRowError) else MAX_ROWS
            if at < len(rows):
                rows[at].add_error(wrong.part or None, wrong.message)
            else:
                self.problems.append(wrong.message)
        return error if told or not hasattr(error, "error_dict") else None

    def wrong(self) -> list[str]:
        """What is wrong with its rows, for the top of the page."""
        return [
            gettext("Row %(n)s, %(label)s: %(told)s") % {"n": n, "label": row.fields[name].label, "told": told}
            if name in row.fields
            else gettext("Row %(n)s: %(told)s") % {"n": n, "told": told}
            for n, row in enumerate(self.forms, 1)
            for name, messages in row.errors.items()
            for told in messages
        ]

    def forget_errors(self) -> None:
        """As typed so far, to go on with."""
        for form in self.forms:
            form._errors = {}


def own_rows_form(
    data: Any,
    *,
    organisation: Organisation,
    house: House | None = None,
    more: bool = False,
    shared: Iterable[Material] | None = None,
) -> OwnRows:
    """A form for each row there is, and some empty ones; with ``more``, some more than were sent.

    ``shared``: materials that the form of the house has read already, those of its rows among them.
    """
    there = [
        {name: getattr(row, name) for name in VALUES} | {"material": str(row.material_id), "length": row.length or None}
        for row in (own_rows_of(house) if house else ())
    ]
    factory = forms.formset_factory(
        OwnRowForm, formset=OwnRows, extra=SPARE_ROWS, max_num=2 * MAX_ROWS, absolute_max=2 * MAX_ROWS
    )
    if data is not None and more:
        data = data.copy()
        sent = data.get("rows-TOTAL_FORMS", "")
        data["rows-TOTAL_FORMS"] = str(int(sent) + SPARE_ROWS) if sent.isdecimal() and len(sent) < 4 else sent
    own = [int(row["material"]) for row in there]
    if shared is None:
        shared = materials_in_use(materials_of(organisation=organisation), own=own)
    materials = {str(row.pk): row for row in shared if row.archived_at is None or row.pk in own}
    rows = factory(
        data, initial=there, prefix="rows", form_kwargs={"organisation": organisation, "materials": materials}
    )
    rows.asked_more = more
    return rows
