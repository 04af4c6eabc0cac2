"""Forms of a bender's services and of hoops measured elsewhere. What may be stored is decided by the services."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.fields import MoneyField, use_organisation
from farmbuild.catalogue.forms import DayField
from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure.senses import ACROSS, RISE
from farmbuild.orgs.clock import today_of


class ServiceForm(OrgForm):
    """``costs``: whoever fills it in may see what things cost."""

    day = DayField(label=gettext_lazy("Day"))
    done = forms.CharField(
        label=gettext_lazy("What was done"),
        max_length=200,
        help_text=gettext_lazy("In a few words: rollers greased, bolts tightened, new shoe."),
        error_messages={"required": gettext_lazy("Type what was done, for example: bolts tightened, shoe greased.")},
    )
    who = forms.CharField(
        label=gettext_lazy("Who did it"),
        max_length=120,
        error_messages={"required": gettext_lazy("Type who did it: a name, or a workshop.")},
    )
    parts = forms.CharField(label=gettext_lazy("Parts"), max_length=200, required=False)
    cost = MoneyField(label=gettext_lazy("Cost"), places=2, required=False)

    def __init__(self, *args: Any, costs: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)
        self.fields["day"].initial = today_of(organisation=self.organisation)
        if not costs:
            del self.fields["cost"]


class HoopForm(OrgForm):
    """A hoop that is in no batch here. Of tubes, those that the bender is for."""

    day = DayField(label=gettext_lazy("Measured on"))
    tube = forms.ModelChoiceField(
        Material.objects.filter(kind="tube"),
        label=gettext_lazy("Pipe"),
        error_messages={"required": gettext_lazy("Choose the pipe that it is bent of.")},
    )
    free_span = LengthFormField(
        label=gettext_lazy("Free span"),
        help_text=gettext_lazy("Between the hoop's ends, the hoop lying flat and free."),
    )
    rise = LengthFormField(
        label=gettext_lazy("Rise"), help_text=gettext_lazy("From the line through the ends to the centre of the crown.")
    )
    pipe = LengthFormField(
        label=gettext_lazy("Pipe in the hoop"),
        help_text=gettext_lazy("Along the bend: the sticks together, less what slides in at joints."),
    )

    def __init__(self, *args: Any, bender: Bender, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["day"].initial = today_of(organisation=self.organisation)
        if bender.tubes.exists():
            self.fields["tube"].queryset = self.fields["tube"].queryset.filter(benders=bender)
        for name, sense in (("free_span", ACROSS), ("rise", RISE)):
            self.fields[name].sense = sense


class ReasonForm(OrgForm):
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why in a few words, for example: the span was misread.")},
    )
