"""The form of a bender, and the one that asks what it would make. What may be stored is decided by the services."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy, gettext_noop

from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthFormField
from farmbuild.common.form_parts import add_service_errors, set_integer_messages
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.hoops.benders.bridge import INCH, JOINTS, RECIPE_BY_NAME, Joint, join_problems
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.worked_out import NEEDS, work_out, working
from farmbuild.measure import ByUnits
from farmbuild.measure.senses import ACROSS, JOINT, RADIUS, RISE, STICK
from farmbuild.measure.usual import INSERTION
from farmbuild.measure.usual import STICK as USUAL_STICK

#: A number far off is asked about.
SENSES = {
    "rated_span": ACROSS,
    "rated_radius": RADIUS,
    "label_stick_length": STICK,
    "label_insertion": JOINT,
    "bent_span": ACROSS,
    "bent_rise": RISE,
}
#: What a radius is worked out of.
WORKED_OF = ("way", *(name for names in NEEDS.values() for name in names))


class BenderForm(OrgModelForm):
    """Asks what the bender makes; the boxes of the other ways stand hidden and are not read."""

    groups = [
        (gettext_lazy("Bender"), ["name", "way", "rated_span"]),
        (gettext_lazy("The hoop that it is sold for"), ["label_sticks", "label_stick_length", "label_insertion"]),
        (gettext_lazy("The hoop as measured"), ["bent_span", "bent_rise"]),
        (gettext_lazy("Its radius"), ["rated_radius"]),
        (gettext_lazy("Tubes"), ["tubes"]),
        (gettext_lazy("Service and drift"), ["service_pulls", "service_months", "earlier_pulls", "drift_limit"]),
        (gettext_lazy("Whose and where"), ["owner", "kept_at", "note"]),
    ]
    folded = ("Tubes", "Service and drift", "Whose and where")
    ways = {
        "The hoop that it is sold for": Bender.Way.LABEL,
        "The hoop as measured": Bender.Way.HOOP,
        "Its radius": Bender.Way.RADIUS,
    }

    class Meta:
        model = Bender
        fields = [
            *("name", "way", "rated_span", "label_sticks", "label_stick_length", "label_insertion"),
            *("bent_span", "bent_rise", "rated_radius", "tubes", "owner", "kept_at", "note"),
            *("service_pulls", "service_months", "earlier_pulls", "drift_limit"),
        ]
        widgets = {
            "way": forms.RadioSelect,
            "tubes": forms.CheckboxSelectMultiple,
            "note": forms.Textarea(attrs={"rows": 3}),
        }
        error_messages = {
            "name": {"required": gettext_lazy("Type what the bender is called, for example the wide bender.")},
        }
        labels = {
            "name": gettext_lazy("Name"),
            "owner": gettext_lazy("Owner"),
            "note": gettext_lazy("Note"),
        }
        help_texts = {
            "rated_span": ByUnits(
                gettext_noop("The span it says, for example 12'. Left empty: as wide as its hoop."),
                gettext_noop("The span it says, for example 5 m. Left empty: as wide as its hoop."),
            )
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)
        new = self.instance._state.adding
        for name in ("rated_radius", "rated_span", "label_stick_length", "bent_span", "bent_rise"):
            self.fields[name].minimum = INCH
        for name in ("way", "rated_radius", "rated_span"):
            self.fields[name].required = False
        # Each is asked for where its way is chosen.
        for name in {"way", *WORKED_OF} - {"rated_span"}:
            self.fields[name].wanted = True
        self.fields["label_stick_length"].cut_of = "tube"
        for name, sense in SENSES.items():
            self.fields[name].sense = sense
        self.fields["tubes"].help_text = gettext("None ticked: any tube.")
        units = self.organisation.unit_system
        usual = {"label_sticks": 2, "label_stick_length": USUAL_STICK.of(units), "label_insertion": INSERTION.of(units)}
        for name, value in usual.items():
            if getattr(self.instance, name) is None:
                self.initial[name] = value
        if new:
            self.initial["way"] = Bender.Way.LABEL
        self.worked: list[str] = []

    def clean(self) -> dict[str, Any]:
        """What stands in boxes of another way is not asked about, and not stored."""
        data = super().clean()
        data["way"] = way = data.get("way") or Bender.Way.RADIUS
        for other, names in NEEDS.items():
            for name in names if other != way else ():
                if name != "rated_span":
                    self.errors.pop(name, None)
                    data[name] = None
        if not self.errors:
            self._work_out(data)
        return data

    def _work_out(self, data: dict[str, Any]) -> None:
        """The service does so again; here it is said at the fields, and how it came about."""
        tried = Bender(organisation=self.organisation, **{name: data[name] for name in WORKED_OF})
        try:
            work_out(tried)
        except ValidationError as error:
            add_service_errors(self, error)
            return
        self.worked = working(tried)
        data |= {"rated_radius": tried.rated_radius, "rated_span": tried.rated_span}


class MakesForm(OrgForm):
    """Which sticks are bent on it, and for which span."""

    sticks = WholeFormField(
        label=gettext_lazy("Sticks in one hoop"), min_value=1, max_value=RECIPE_BY_NAME["sticks"].largest
    )
    stick_length = LengthFormField(label=gettext_lazy("Length of one stick"), minimum=INCH)
    insertion = LengthFormField(
        label=gettext_lazy("Insertion at each joint"),
        small=True,
        required=False,
        help_text=gettext_lazy("How far the swaged end slides in."),
    )
    joint = forms.ChoiceField(
        label=gettext_lazy("Joint"),
        choices=[(value, gettext_lazy(words)) for value, words in JOINTS[:-1]],
        required=False,
    )
    post_span = LengthFormField(
        label=gettext_lazy("Span wanted between the posts"),
        minimum=INCH,
        required=False,
        help_text=gettext_lazy("Centre to centre. Leave it empty to see only what the sticks make."),
    )
    spring_in = LengthFormField(
        label=gettext_lazy("Spring-in wanted"),
        small=True,
        required=False,
        help_text=gettext_lazy(
            "How much wider than the posts the free hoop stands. Empty: what its tube and radius allow."
        ),
    )
    tube = forms.ModelChoiceField(
        label=gettext_lazy("Tube"),
        queryset=Material.objects.filter(kind="tube"),
        required=False,
        empty_label=gettext_lazy("Any tube that joins so"),
    )
    radius_from = forms.ChoiceField(
        label=gettext_lazy("Radius"),
        choices=[("measured", gettext_lazy("as measured")), ("rated", gettext_lazy("as rated"))],
        required=False,
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
