"""Forms of sites and houses. What can be built is decided by the services, not here."""

from __future__ import annotations

from collections.abc import Set
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Q
from django.utils.html import escape, format_html
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_in_use
from farmbuild.common.fields import LengthFormField
from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.common.speaking import said_either
from farmbuild.hoops.recipes.selectors import any_recipe_of
from farmbuild.measure.limits import SEASON_DAYS
from farmbuild.sites.bridge import FIELDS, MATERIAL_FIELDS, SENSES, SPEC_FIELDS, FieldKind, own_rows_of, sections
from farmbuild.sites.material_fields import MaterialChoiceField, read_once
from farmbuild.sites.models import House, Site
from farmbuild.sites.own_rows import NAME as OWN_ROWS
from farmbuild.sites.own_rows import OwnRows, own_rows_form, own_rows_words
from farmbuild.sites.selectors import sites_of
from farmbuild.sites.services import MAX_COPIES, PLACE_FIELDS, place_problems


class NeedDateField(forms.DateField):
    """A day that a season can hold, picked or typed as 2027-05-03."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            validators=[
                MinValueValidator(SEASON_DAYS.first, SEASON_DAYS.too_early),
                MaxValueValidator(SEASON_DAYS.last, SEASON_DAYS.too_late),
            ],
            error_messages={
                "invalid": gettext("This day cannot be read. Pick it, or type year-month-day, for example 2027-05-03."),
                "required": gettext("Pick the day on which the materials have to be there."),
            },
            **kwargs,
        )


class SiteForm(OrgModelForm):
    class Meta:
        model = Site
        fields = ["name", "address", "note", "corner_stake", "plan_bearing", "walkway"]
        widgets = {"address": forms.Textarea(attrs={"rows": 3}), "note": forms.Textarea(attrs={"rows": 3})}
        error_messages = {"name": {"required": gettext_lazy("Type what the site is called, for example North Field.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)


class PlaceForm(OrgModelForm):
    """Where one house stands on its site."""

    needs_opened_values = True

    class Meta:
        model = House
        fields = list(PLACE_FIELDS)
        labels = {"ridge_turn": gettext_lazy("Turned, °")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)
        for name in PLACE_FIELDS:
            # All rows are alike, and what an empty box means is said once, over them.
            self.fields[name].required, self.fields[name].wanted = False, True
        self.fields["ridge_turn"].none_is_empty = True

    def clean_ridge_turn(self) -> int:
        return self.cleaned_data["ridge_turn"] or 0

    def clean(self) -> dict[str, Any]:
        """Said at the field here, where the guard of the database would say it of the whole row."""
        data = super().clean()
        if {"along", "across"} <= data.keys():
            for name, words in place_problems(data["along"], data["across"], self.organisation.unit_system).items():
                self.add_error(name, words)
        return data


class CopySiteForm(OrgForm):
    name = forms.CharField(
        label=gettext_lazy("Name of the new site"),
        max_length=120,
        error_messages={"required": gettext_lazy("Type what the new site is called.")},
    )
    with_houses = forms.BooleanField(label=gettext_lazy("Copy its houses too"), required=False, initial=True)


#: What every house is asked; the rest is folded, a part each, with what it says in one line.
OPEN = (
    "name",
    "site",
    "recipe",
    "post_span",
    "length",
    "spacing_wanted",
    "front_door_count",
    "back_door_count",
    "film_material",
    "film_layers",
    "need_date",
)
#: No longer than the stick of which they are cut.
CUT_OF_ONE_STICK = ("post_length", "brace_length")


_EMPTY_IS_NONE = (FieldKind.LENGTH, FieldKind.COUNT)


class HouseForm(OrgModelForm):
    """``rows``: the rows of its own, sent with it and right; none were, where they are left out."""

    needs_opened_values = True
    typed_beside = (OWN_ROWS,)
    rows: OwnRows | None = None
    #: Fields that stand open, in the order of the page.
    asked = OPEN

    need_date = NeedDateField(label=gettext_lazy("Materials needed by"))

    groups = (
        ("", list(OPEN)),
        *((title, [name for name in names if name not in OPEN]) for title, names in sections().items()),
    )

    class Meta:
        model = House
        fields = ["site", "name", "need_date", *SPEC_FIELDS]
        field_classes = dict.fromkeys(MATERIAL_FIELDS, MaterialChoiceField)
        error_messages = {
            "name": {"required": gettext_lazy("Type what the house is called, for example North Field 2.")},
            "site": {"required": gettext_lazy("Choose the site on which the house stands.")},
            "recipe": {"required": gettext_lazy("Choose how its hoops are made.")},
            "side_closing": {"required": gettext_lazy("Choose how the sides close.")},
            "post_span": {"required": gettext_lazy("Type how far apart the ground posts stand across the house.")},
            "length": {"required": gettext_lazy("Type how long the house is, first hoop to last.")},
            "spacing_wanted": {"required": gettext_lazy("Type how far apart the hoops may stand at most.")},
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)
        standing = Q(archived_at=None)
        # What the house has already stays on offer, archived or not.
        if "site" in self.fields:
            self.fields["site"].queryset = self.fields["site"].queryset.filter(standing | Q(pk=self.instance.site_id))
        self.fields["recipe"].queryset = any_recipe_of(organisation=self.organisation).filter(
            standing | Q(pk=self.instance.recipe_id)
        )
        for name, label in (("site", gettext("Choose a site")), ("recipe", gettext("Choose a recipe"))):
            if name in self.fields:
                self.fields[name].empty_label = label
        own = {getattr(self.instance, f"{name}_id") for name in MATERIAL_FIELDS}
        own |= {row.material_id for row in own_rows_of(self.instance)}
        self.shared = read_once(materials_in_use(Material.objects.of(self.organisation), own=own))
        for field in FIELDS:
            if field.kind is FieldKind.MATERIAL:
                self._offer(field.name, {str(kind) for kind in field.materials})
            if field.kind is FieldKind.LENGTH:
                self.fields[field.name].sense = SENSES[field.name]
            if field.kind is FieldKind.LENGTH and not field.may_be_none():
                self.fields[field.name].minimum = field.smallest
            if field.name.endswith("stick_length") or field.name in CUT_OF_ONE_STICK:
                self.fields[field.name].cut_of = "tube"
            if field.kind in _EMPTY_IS_NONE and not field.smallest:
                self._show_no_nought(field.name)

    def _show_no_nought(self, name: str) -> None:
        """What the house has not stands as an empty box, and an empty box is read as none."""
        field = self.fields[name]
        field.required, field.none_is_empty = False, True
        if not self.initial.get(name, field.initial):
            self.initial[name] = None

    def _offer(self, name: str, kinds: Set[str]) -> None:
        """Materials in use, and the house's own: archived or listed as another kind since, it is not lost."""
        shown, own = self.fields[name], getattr(self.instance, f"{name}_id")
        shown.offer(self.shared, kinds=frozenset(kinds), own=own)
        archived = own and next((row for row in self.shared if row.pk == own and row.archived_at), None)
        if archived:
            words = gettext("%(archived)s is archived. The house keeps it until you choose another.") % {
                "archived": archived
            }
            shown.help_text = format_html("{} {}", shown.help_text, words) if shown.help_text else escape(words)

    def _get_validation_exclusions(self) -> set[str]:
        """Materials were chosen from rows just read; asking for each again takes forty queries."""
        return super()._get_validation_exclusions() | set(MATERIAL_FIELDS)

    def display_values(self, row: House) -> dict[str, str]:
        """Its own rows too, though they are typed below the form."""
        known = {material.pk: material for material in self.shared}
        for name in MATERIAL_FIELDS:
            if material := known.get(getattr(row, f"{name}_id")):
                setattr(row, name, material)
        own = own_rows_words(own_rows_of(row), self.organisation.unit_system)
        return super().display_values(row) | {OWN_ROWS: own}

    def opened_values(self) -> dict[str, str]:
        """Rows that were sent with a form that cannot tell what it was opened with count as changed meanwhile."""
        return ({OWN_ROWS: ""} if self.rows else {}) | super().opened_values()

    def beside(self, name: str) -> str:
        return self.rows.words(self.organisation.unit_system) if self.rows else super().beside(name)

    def typed(self) -> House:
        """The house as far as it can be read; what cannot be is as it was stored, or as in a new house."""
        if self.is_bound:
            self.errors  # noqa: B018 - reads what was sent into the instance
            return self.instance
        if self.instance.pk:
            return self.instance
        columns = {name: value for name, value in self.initial.items() if value is not None}
        return House(organisation=self.organisation, **columns)

    def take_beside(self, name: str, row: House) -> None:
        self.rows = own_rows_form(None, organisation=self.organisation, house=row)

    def clean(self) -> dict[str, Any]:
        """A length or a count that is left empty is none."""
        data = super().clean()
        for field in FIELDS:
            if (
                field.kind is FieldKind.MATERIAL
                and (found := data.get(field.name))
                and found.kind not in field.materials
            ):
                kinds = said_either(str(Material.Kind(kind).label).lower() for kind in field.materials)
                self.add_error(
                    field.name,
                    gettext(
                        "%(found)s is listed as %(lower)s now. Choose another, or list it as %(kinds)s under Materials."
                    )
                    % {"found": found, "lower": found.get_kind_display().lower(), "kinds": kinds},
                )
        for name, value in data.items():
            if value is None and isinstance(self.fields[name], LengthFormField):
                data[name] = Decimal(0)
            elif value is None and isinstance(self.fields[name], WholeFormField):
                data[name] = 0
        return data


class CopyHouseForm(OrgForm):
    site = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("On which site"), empty_label=None)
    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=110,
        help_text=gettext_lazy("More copies are numbered on from it."),
        error_messages={"required": gettext_lazy("Type what the copy is called.")},
    )
    need_date = NeedDateField(label=gettext_lazy("Materials needed by"))
    copies = WholeFormField(label=gettext_lazy("How many copies"), min_value=1, max_value=MAX_COPIES, initial=1)
    days_apart = WholeFormField(
        label=gettext_lazy("Days from one copy's date to the next"),
        min_value=0,
        max_value=365,
        initial=0,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)
        self.fields["site"].queryset = sites_of(organisation=self.organisation)
