"""One way to render forms, and the base classes that know the organisation."""

from decimal import Decimal
from typing import Any

from django import forms
from django.forms.renderers import TemplatesSetting

from farmbuild.measure import UnitSystem


class FarmFormRenderer(TemplatesSetting):
    """Forms and fields come from templates/forms."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"


def _say_what_to_type(name: str, field: forms.Field) -> None:
    """A required field without words of its own asks for itself by name, not for "this field"."""
    if field.error_messages.get("required") != forms.Field.default_error_messages["required"]:
        return
    verb = "Choose" if isinstance(field.widget, (forms.Select, forms.RadioSelect, forms.FileInput)) else "Type"
    label = str(field.label or name.replace("_", " "))
    field.error_messages["required"] = f"{verb} the {label[:1].lower()}{label[1:]}."


class Lines(forms.Textarea):
    """Lines end as they are stored, not as a browser sends them; saving what is unchanged changes nothing."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        value = super().value_from_datadict(data, files, name)
        return value.replace("\r\n", "\n") if isinstance(value, str) else value


class OrgFormMixin:
    """Takes ``organisation``: choices come from its rows only, lengths are read in its unit."""

    def __init__(self, *args: Any, organisation: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.organisation = organisation
        for name, field in self.fields.items():
            _say_what_to_type(name, field)
            if type(field.widget) is forms.Textarea:
                field.widget = Lines(attrs=field.widget.attrs)
            if hasattr(field, "use_system"):
                field.use_system(UnitSystem(organisation.unit_system))
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = field.queryset.filter(organisation=organisation)


class OrgForm(OrgFormMixin, forms.Form):
    pass


class OrgModelForm(OrgFormMixin, forms.ModelForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Set before validation, so that constraints over the organisation are checked at the field.
        self.instance.organisation = self.organisation
        for name, value in self.initial.items():
            if isinstance(value, Decimal) and type(self.fields.get(name)) is forms.DecimalField:
                # 6.25, not 6.250: trailing noughts come from the column, not from whoever typed it.
                self.initial[name] = Decimal(f"{value.normalize():f}")

    def _get_validation_exclusions(self) -> set[str]:
        return super()._get_validation_exclusions() - {"organisation"}
