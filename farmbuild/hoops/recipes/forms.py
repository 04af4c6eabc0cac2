"""The form of a recipe. Whether the hoop can be made is decided by the services, not here."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q
from django.utils.html import format_html
from django.utils.translation import gettext, gettext_lazy, gettext_noop

from farmbuild.catalogue.selectors import materials_in_use
from farmbuild.common.fields import LengthFormField
from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.speaking import said
from farmbuild.hoops.benders.bridge import INCH
from farmbuild.hoops.benders.selectors import measured_radius_of
from farmbuild.hoops.recipes.bridge import RECIPE_FIELDS, SENSES, FieldKind
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.services import FIELDS
from farmbuild.measure import ByUnits, in_units
from farmbuild.measure.usual import LEVER

_MAY_BE_EMPTY = ("insertion", "sleeve_length", "first_mark", "stop_gap")
#: What says nothing of them leaves them as they were.
_AS_IT_WAS = ("joint", "sleeve_screws")
_NO_RADIUS = gettext_lazy("Type the radius that the bender makes, to the centreline of the pipe.")
_NO_SPAN = ByUnits(
    gettext_noop("Type the span between the posts, for example 12', or the spring-in."),
    gettext_noop("Type the span between the posts, for example 3600 mm, or the spring-in."),
)
RATED, MEASURED = "rated", "measured"


class RecipeForm(OrgModelForm):
    sole = ("bender",)
    groups = [
        (gettext_lazy("Hoop"), ["name"]),
        (gettext_lazy("Pipe"), ["tube", "stick_length", "sticks"]),
        (gettext_lazy("Joints"), ["joint", "insertion", "sleeve_material", "sleeve_length", "sleeve_screws"]),
        (gettext_lazy("Bender"), ["bender", "radius", "radius_from"]),
        (gettext_lazy("Pulls"), ["first_mark", "pitch", "stop_gap", "lever_length"]),
    ]

    radius_from = forms.ChoiceField(
        label=gettext_lazy("Which radius to take"),
        required=False,
        help_text=gettext_lazy("The bender's takes the place of what is typed."),
        choices=[
            ("", gettext_lazy("as typed above")),
            (RATED, gettext_lazy("the bender's rated radius")),
            (MEASURED, gettext_lazy("the bender's measured radius")),
        ],
    )

    class Meta:
        model = Recipe
        fields = FIELDS
        error_messages = {
            "name": {"required": gettext_lazy("Type what the recipe is called, for example field hoop.")},
            "tube": {"required": gettext_lazy("Choose the pipe that is bent.")},
            "stick_length": {
                "required": ByUnits(
                    gettext_noop("Type the length of one stick, for example 10'."),
                    gettext_noop("Type the length of one stick, for example 6 m."),
                )
            },
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)
        self.fields["stick_length"].cut_of = "tube"
        tube = self.fields["tube"]
        tube.empty_label = gettext("Choose a pipe")
        tube.queryset = materials_in_use(tube.queryset, own=[self.instance.tube_id])
        for field in RECIPE_FIELDS:
            if field.kind is FieldKind.LENGTH:
                self.fields[field.name].sense = SENSES[field.name]
            if field.kind is FieldKind.LENGTH and not field.may_be_none():
                self.fields[field.name].minimum = field.smallest
        sleeve = self.fields["sleeve_material"]
        sleeve.empty_label = gettext("None")
        sleeve.queryset = materials_in_use(sleeve.queryset, own=[self.instance.sleeve_material_id])
        for name in (*_MAY_BE_EMPTY, *_AS_IT_WAS, "radius", "lever_length"):
            self.fields[name].required = False
        self.fields["radius"].help_text = gettext("The one radius that the bender makes. Empty: its rated radius.")
        bender = self.fields["bender"]
        bender.empty_label = gettext("None named")
        bender.queryset = bender.queryset.filter(Q(archived_at=None) | Q(pk=self.instance.bender_id))

    def clean(self) -> dict[str, Any]:
        """An empty insertion, first mark or stop gap is none; the radius may come from the bender."""
        data = super().clean()
        for name in _MAY_BE_EMPTY:
            if name in data and data[name] is None:
                data[name] = Decimal(0)
        for name in _AS_IT_WAS:
            if name in data and data[name] in (None, ""):
                data[name] = getattr(self.instance, name)
        if "lever_length" in data and data["lever_length"] is None:
            data["lever_length"] = LEVER.of(self.organisation.unit_system)
        if "radius" not in self.errors and "bender" not in self.errors:
            self._take_radius(data)
        return data

    def _take_radius(self, data: dict[str, Any]) -> None:
        bender, source = data.get("bender"), data.get("radius_from")
        if source and bender is None:
            self.add_error(
                "bender", gettext("Choose the bender whose radius to take, or take the radius that is typed.")
            )
        elif source == MEASURED:
            tube = data.get("tube")
            found = measured_radius_of(bender=bender, tube_id=tube.pk if tube else None)
            if found is None:
                self.add_error(
                    "radius_from",
                    gettext(
                        "No trial hoop has been accepted on %(bender)s yet, so it has no measured radius. Take "
                        "its rated radius, or type one."
                    )
                    % {"bender": bender},
                )
            data["radius"] = found
        elif source == RATED or (data.get("radius") is None and bender is not None):
            data["radius"] = bender.rated_radius
        elif data.get("radius") is None:
            self.add_error("radius", _NO_RADIUS)


class SpringForm(OrgForm):
    """One of the two; an empty form asks nothing."""

    post_span = LengthFormField(
        label=gettext_lazy("Span between the posts"),
        minimum=INCH,
        required=False,
        help_text=gettext_lazy("Centre to centre."),
    )
    spring_in = LengthFormField(
        label=gettext_lazy("Or the spring-in wanted"),
        small=True,
        required=False,
        help_text=gettext_lazy("How much wider than the posts the free hoop stands."),
    )

    def __init__(self, *args: Any, free_span: Decimal, spring_range: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.free_span = free_span
        field = self.fields["spring_in"]
        # Help is shown as it stands, and the sentence names a tube.
        field.help_text = format_html("{} {}", field.help_text, said(spring_range))

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        span, inward = data.get("post_span"), data.get("spring_in")
        if self.errors:
            return data
        if span is not None and inward is not None:
            self.add_error(
                "spring_in", gettext("Type the span or the spring-in; the other one follows. Empty one of the two.")
            )
        elif span is None and inward is None:
            self.add_error("post_span", gettext(in_units(_NO_SPAN, self.organisation.unit_system)))
        elif span is not None and span >= 2 * self.free_span:
            self.add_error(
                "post_span", gettext("The posts stand more than twice as wide as the hoop. Type a narrower span.")
            )
        elif inward is not None and inward >= self.free_span:
            self.add_error("spring_in", gettext("The ends of the hoop would meet. Type less than the free span."))
        return data

    def inward(self) -> Decimal:
        """By how much the ends come together, mm; below zero where they are pulled apart."""
        span = self.cleaned_data["post_span"]
        return self.cleaned_data["spring_in"] if span is None else self.free_span - span
