"""One way to render forms, and the base classes that know the organisation."""

from datetime import date
from typing import Any

from django import forms
from django.core import signing
from django.db.models.fields import BLANK_CHOICE_DASH
from django.forms.models import ModelFormMetaclass
from django.forms.renderers import TemplatesSetting
from django.utils.functional import Promise
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.boxes import BOXES, FIELD, field_group
from farmbuild.common.fields import LengthFormField, LengthListFormField
from farmbuild.common.number_fields import formfield_by_sign
from farmbuild.common.reading import units_of
from farmbuild.common.speaking import said
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import UnitSystem, by_sign, in_units, one_line

#: What Django shows for an empty choice.
DASHES = BLANK_CHOICE_DASH[0][1]
_OPENED = "form-opened"


class FarmFormRenderer(TemplatesSetting):
    """Forms come from templates/forms, fields and most boxes from ``boxes``."""

    form_template_name = "forms/form.html"
    field_template_name = FIELD

    def render(self, template_name: str, context: Any, request: Any = None) -> str:
        if template_name == FIELD:
            return field_group(context["field"])
        if box := BOXES.get(template_name):
            return box(context["widget"])
        return super().render(template_name, context, request)


def _set_required_message(name: str, field: forms.Field) -> None:
    """A required field without words of its own asks for itself by name, not for "this field"."""
    if field.error_messages.get("required") != forms.Field.default_error_messages["required"]:
        return
    verb = (
        gettext("Choose")
        if isinstance(field.widget, (forms.Select, forms.RadioSelect, forms.FileInput))
        else gettext("Type")
    )
    label = str(field.label or name.replace("_", " "))
    field.error_messages["required"] = gettext("%(verb)s the %(lower)s%(label)s.") % {
        "verb": verb,
        "lower": label[:1].lower(),
        "label": label[1:],
    }


def _set_choice_messages(field: forms.ChoiceField) -> None:
    """An empty choice in words, and a sentence for a choice that went while the form was open."""
    for key in ("invalid_choice", "invalid_pk_value"):
        if field.error_messages.get(key, "").startswith("Select a valid choice") or key == "invalid_pk_value":
            field.error_messages[key] = gettext("This choice is not on the list any more. Choose one from the list.")
    words = gettext("Choose one") if field.required else gettext("None")
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label == DASHES:
            field.empty_label = words
    elif not callable(field.choices) and ("", DASHES) in field.choices:
        field.choices = [("", words) if choice == ("", DASHES) else choice for choice in field.choices]


class Lines(forms.Textarea):
    """Lines end as they are stored, not as a browser sends them; saving what is unchanged changes nothing."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        value = super().value_from_datadict(data, files, name)
        return value.replace("\r\n", "\n") if isinstance(value, str) else value


class OneLine(forms.TextInput):
    """As a browser sends it: a program may send line ends, which would break a calendar or a label."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        value = super().value_from_datadict(data, files, name)
        return one_line(value) if isinstance(value, str) else value


class RowsField(forms.ModelMultipleChoiceField):
    """A key that no column of the database holds is none of its rows."""

    def _check_values(self, value: Any) -> Any:
        try:
            return super()._check_values(value)
        except OverflowError as error:
            words = self.error_messages["invalid_choice"]
            raise forms.ValidationError(words, code="invalid_choice", params={"value": "that"}) from error


class SoleSelect(forms.Select):
    """A list of one choice is no question: that one is chosen."""

    def optgroups(self, name: str, value: Any, attrs: Any = None) -> Any:
        groups = super().optgroups(name, value, attrs)
        options = [option for _, some, _ in groups for option in some]
        real = [option for option in options if str(option["value"])]
        if len(real) == 1 and not any(option["selected"] for option in real):
            for option in options:
                option["selected"] = option is real[0]
                option["attrs"].pop("selected", None)
            real[0]["attrs"] |= self.checked_attribute
        return groups


def display_value(field: forms.Field, value: Any) -> str:
    """A value of a form's field as a person reads it."""
    if isinstance(field, forms.ModelMultipleChoiceField):
        return ", ".join(sorted(str(row) for row in (value.all() if hasattr(value, "all") else value))) or gettext(
            "none"
        )
    if isinstance(field, forms.ModelChoiceField):
        return str(value) if value else gettext("none")
    if isinstance(field, forms.BooleanField):
        return gettext("yes") if value else gettext("no")
    if isinstance(field, forms.ChoiceField):
        return str(dict(field.choices).get(value, value))
    if value is None or value == "":
        return gettext("nothing")
    if isinstance(value, date):
        return day(value)
    return str(getattr(field, "say", field.prepare_value)(value)) or gettext("nothing")


def _widget_in_place(kind: type[forms.Select], shown: forms.Select) -> forms.Select:
    widget = kind(attrs=shown.attrs, choices=shown.choices)
    widget.is_required, widget.is_localized = shown.is_required, shown.is_localized
    return widget


def _say_in_units(field: forms.Field, system: UnitSystem) -> None:
    """Sentences with sizes in, as they are said in the organisation's units and by its decimal sign."""
    field.help_text = _said(field.help_text, system)
    field.error_messages = {key: _said(said, system) for key, said in field.error_messages.items()}


def _said(sentence: Any, system: UnitSystem) -> Any:
    """Models take some of what they say from planning, which is English until it is read."""
    own = in_units(sentence, system)
    if isinstance(own, Promise):
        return by_sign(str(own))
    return by_sign(said(own)) if isinstance(own, str) and not isinstance(own, SafeString) else own


class OrgFormMixin:
    """Takes ``organisation``: choices come from its rows only, lengths are read in its unit.

    ``sole``: fields that may be left empty, but begin with the one choice where there is just one, as all do that may
    not.
    """

    sole: tuple[str, ...] = ()

    def __init__(self, *args: Any, organisation: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.organisation = organisation
        for name, field in self.fields.items():
            _say_in_units(field, units_of(organisation))
            _set_required_message(name, field)
            if isinstance(field, forms.ChoiceField):
                _set_choice_messages(field)
            if type(field.widget) is forms.Textarea:
                field.widget = Lines(attrs=field.widget.attrs)
            if type(field.widget) is forms.TextInput:
                field.widget = OneLine(attrs=field.widget.attrs)
            if hasattr(field, "use_system"):
                field.use_system(units_of(organisation))
            if isinstance(field, forms.ModelChoiceField) and not getattr(field, "offers_given", False):
                field.queryset = field.queryset.filter(organisation=organisation)
                if (field.required or name in self.sole) and self._begins() and type(field.widget) is forms.Select:
                    field.widget = _widget_in_place(SoleSelect, field.widget)

    @property
    def asks_back(self) -> bool:
        """Whether readings stand there to be pressed; the Enter key then presses none of them."""
        return any(getattr(field, "readings", ()) for field in self.fields.values())

    def _begins(self) -> bool:
        """What was sent, or stored before, stays as it is."""
        return not self.is_bound and getattr(getattr(self, "instance", None), "pk", None) is None


class OrgForm(OrgFormMixin, forms.Form):
    pass


class _ReadByTheSign(ModelFormMetaclass):
    """Numbers of the model are read by the decimal sign, in every form made of it."""

    def __new__(mcs, name: str, bases: tuple[type, ...], attrs: dict[str, Any]) -> Any:
        if "Meta" in attrs:
            attrs["Meta"].formfield_callback = staticmethod(formfield_by_sign)
        return super().__new__(mcs, name, bases, attrs)


class OrgModelForm(OrgFormMixin, forms.ModelForm, metaclass=_ReadByTheSign):
    #: Names in ``display_values`` that are typed beside the form.
    typed_beside: tuple[str, ...] = ()

    def beside(self, name: str) -> str:
        """What was typed there, as a person reads it; what cannot be compared stays."""
        return gettext("what stands here")

    def take_beside(self, name: str, row: Any) -> None:
        """Let what stands there say what ``row`` says; asked where its sender changed nothing."""

    #: Without what it was opened with, everything that differs from the row counts as changed meanwhile.
    needs_opened_values = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if kwargs.get("instance") is None:
            for name, field in self.fields.items():
                if (usual := getattr(field, "usual", None)) and name not in (kwargs.get("initial") or {}):
                    self.initial[name] = usual.of(units_of(self.organisation))
        for name, field in self.fields.items():
            if isinstance(field, (LengthFormField, LengthListFormField)) and not self.instance._state.adding:
                field.stored = self.initial.get(name) or type(field).stored
        # Set before validation, so that constraints over the organisation are checked at the field.
        self.instance.organisation = self.organisation
        if not self.instance._state.adding:
            # Sealed when shown, once the form of the room has made its fields.
            self.fields["opened"] = forms.CharField(
                widget=forms.HiddenInput, required=False, strip=False, initial=lambda: self.signed_values(self.instance)
            )

    def _get_validation_exclusions(self) -> set[str]:
        return super()._get_validation_exclusions() - {"organisation"}

    def _post_clean(self) -> None:
        super()._post_clean()
        self.cleaned_data.pop("opened", None)

    def display_values(self, row: Any) -> dict[str, str]:
        """What each field of the form says for this row, as a person reads it."""
        columns = {field.name for field in row._meta.get_fields()}
        return {
            name: display_value(field, getattr(row, name))
            for name, field in self.fields.items()
            if name in columns and not field.widget.is_hidden
        } | ({"archived": gettext("yes") if row.archived_at else gettext("no")} if "archived_at" in columns else {})

    def signed_values(self, row: Any) -> str:
        return signing.dumps(self.display_values(row), salt=_OPENED, compress=True)

    def opened_values(self) -> dict[str, str]:
        """What the row said when this form was opened; empty when that cannot be told any more."""
        try:
            return signing.loads(self.data.get(self.add_prefix("opened"), ""), salt=_OPENED)
        except signing.BadSignature:
            return {}
