"""Forms of a bender's services and of hoops measured elsewhere. What may be stored is decided by the services."""

from __future__ import annotations

from typing import Any

from django import forms

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

    day = DayField(label="Day")
    done = forms.CharField(
        label="What was done",
        max_length=200,
        help_text="In a few words: rollers greased, bolts tightened, new shoe.",
        error_messages={"required": "Type what was done, for example: bolts tightened, shoe greased."},
    )
    who = forms.CharField(
        label="Who did it",
        max_length=120,
        error_messages={"required": "Type who did it: a name, or a workshop."},
    )
    parts = forms.CharField(label="Parts", max_length=200, required=False)
    cost = MoneyField(label="Cost", places=2, required=False)

    def __init__(self, *args: Any, costs: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)
        self.fields["day"].initial = today_of(organisation=self.organisation)
        if not costs:
            del self.fields["cost"]


class HoopForm(OrgForm):
    """A hoop that is in no batch here. Of tubes, those that the bender is for."""

    day = DayField(label="Measured on")
    tube = forms.ModelChoiceField(
        Material.objects.filter(kind="tube"),
        label="Pipe",
        error_messages={"required": "Choose the pipe that it is bent of."},
    )
    free_span = LengthFormField(label="Free span", help_text="Between the hoop's ends, the hoop lying flat and free.")
    rise = LengthFormField(label="Rise", help_text="From the line through the ends to the centre of the crown.")
    pipe = LengthFormField(
        label="Pipe in the hoop", help_text="Along the bend: the sticks together, less what slides in at joints."
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
        label="Why",
        max_length=200,
        error_messages={"required": "Say why in a few words, for example: the span was misread."},
    )
