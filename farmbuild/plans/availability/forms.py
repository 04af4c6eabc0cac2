"""Which plan's need is counted too."""

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.common.forms import OrgForm
from farmbuild.plans.availability.selectors import plans_to_count
from farmbuild.plans.models import Plan
from farmbuild.stock.forms import PlainSelect


class AlsoForm(OrgForm):
    plan = forms.ModelChoiceField(
        Plan.objects.none(),
        label=gettext_lazy("Count the need of a plan that is not accepted"),
        to_field_name="number",
        required=False,
        empty_label=gettext_lazy("No such plan"),
        widget=PlainSelect,
    )

    #: The newest of them; older ones are seldom carried out.
    MAX_PLANS = 50

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        plans = plans_to_count(organisation=self.organisation)
        if newest := list(plans.values_list("pk", flat=True)[: self.MAX_PLANS]):
            self.fields["plan"].queryset = plans.filter(pk__in=newest)

    @property
    def chosen(self) -> Plan | None:
        return self.cleaned_data.get("plan") if self.is_valid() else None
