"""One way to render forms, and the base classes that know the organisation."""

from typing import Any

from django import forms
from django.forms.renderers import TemplatesSetting

from farmbuild.measure import UnitSystem


class FarmFormRenderer(TemplatesSetting):
    """Forms and fields come from templates/forms."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"


class OrgFormMixin:
    """Takes ``organisation``: choices come from its rows only, lengths are read in its unit."""

    def __init__(self, *args: Any, organisation: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.organisation = organisation
        for field in self.fields.values():
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

    def _get_validation_exclusions(self) -> set[str]:
        return super()._get_validation_exclusions() - {"organisation"}
