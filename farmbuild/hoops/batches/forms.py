"""Forms of a hoop batch. What may be done is decided by the services."""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.fields import CountField
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.speaking import said, said_count
from farmbuild.hoops.batches.bridge import Verdict, range_words
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.selectors import LotSticks, lots_for
from farmbuild.hoops.batches.words import again_words
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import ByUnits, format_count
from farmbuild.measure.senses import ACROSS, RISE
from farmbuild.measure.usual import TRIAL_TOLERANCE
from farmbuild.sites.bridge import hoop_count
from farmbuild.sites.house_choice import house_at
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot

MAX_HOOPS = 10_000
MIN_LENGTH = Decimal("25.4")


class BatchForm(OrgForm):
    """``houses``: those that use the recipe, each with ``hoops_shared``. Their hoops come as share_<slug>."""

    bender = forms.ModelChoiceField(
        label=_("Bender"),
        queryset=Bender.objects.filter(archived_at=None),
        empty_label=_("Choose a bender"),
        error_messages={"required": _("Choose the bender that it is bent on.")},
    )
    quantity = CountField(label=_("Hoops to make"), most=MAX_HOOPS, help_text=_("Spare ones included."))
    post_span = LengthFormField(
        label=_("Post span"), minimum=MIN_LENGTH, help_text=_("Between ground posts, centre to centre.")
    )
    spring_in = LengthFormField(
        label=_("Spring-in wanted"),
        small=True,
        help_text=_("How much wider than the posts the free hoop stands."),
    )
    span_tolerance = LengthFormField(label=_("Free span may be off by"), small=True, usual=TRIAL_TOLERANCE)
    rise_tolerance = LengthFormField(label=_("Rise may be off by"), small=True, usual=TRIAL_TOLERANCE)
    twist_tolerance = LengthFormField(label=_("Twist may be up to"), small=True, usual=TRIAL_TOLERANCE)
    go_on = forms.BooleanField(label=_("Make the batch all the same"), required=False)

    def __init__(self, *args: Any, recipe: Recipe, houses: Sequence[House], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.recipe, self.houses = recipe, list(houses)
        spring_in = self.fields["spring_in"]
        # Help is shown as it stands, and the sentence names a tube.
        spring_in.help_text = format_html(
            "{} {}", spring_in.help_text, said(range_words(recipe, self.initial.get("post_span")))
        )
        names = []
        for house in self.houses:
            needed = hoop_count(house)
            shared = (
                gettext(", %(hoops_shared)s in other batches") % {"hoops_shared": house.hoops_shared}
                if house.hoops_shared
                else ""
            )
            names.append(f"share_{house.slug}")
            self.fields[names[-1]] = CountField(
                label=gettext("Hoops for %(house)s") % {"house": house_at(house)},
                most=MAX_HOOPS,
                required=False,
                help_text=gettext("It has %(needed)s%(shared)s.")
                % {"needed": said_count(needed, "hoop"), "shared": shared},
            )
        self.groups = [
            (gettext("Hoops"), ["bender", "quantity"]),
            (gettext("Which houses they are for"), names),
            (gettext("Target"), ["post_span", "spring_in"]),
            (gettext("How far the trial hoop may be off"), ["span_tolerance", "rise_tolerance", "twist_tolerance"]),
            (gettext("Before it is made"), ["go_on"]),
        ]
        if not names:
            del self.groups[1]
        self.ask_to_go_on(False)

    def ask_to_go_on(self, asked: bool) -> None:
        """The tick stands on the page only where there is something to tick off."""
        if asked:
            self.fields["go_on"] = deepcopy(type(self).base_fields["go_on"])
        else:
            self.fields.pop("go_on", None)
        self.groups = [(name, fields) for name, fields in self.groups if fields != ["go_on"]]
        if asked:
            self.groups.append((gettext("Before it is made"), ["go_on"]))

    def shares(self) -> dict[House, int]:
        given = {house: self.cleaned_data.get(f"share_{house.slug}") for house in self.houses}
        return {house: hoops for house, hoops in given.items() if hoops}


def lot_words(lot: Lot) -> str:
    return gettext("%(reference)s, %(on_hand)s at %(place)s") % {
        "reference": lot.reference,
        "on_hand": format_count(lot.on_hand),
        "place": lot.place,
    }


class IssueForm(OrgForm):
    lot = forms.ModelChoiceField(
        label=_("Lot"),
        queryset=Lot.objects.none(),
        empty_label=None,
        error_messages={"required": _("Choose the lot that the sticks come from.")},
    )
    quantity = CountField(label=_("How many sticks"))

    def __init__(self, *args: Any, batch: HoopBatch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lot"].queryset = lots_for(batch=batch)
        self.fields["lot"].label_from_instance = lot_words


class GiveBackForm(OrgForm):
    lot = forms.ModelChoiceField(
        label=_("Lot"),
        queryset=Lot.objects.all(),
        empty_label=None,
        error_messages={"required": _("Choose the lot that they came from.")},
    )
    quantity = CountField(label=_("How many sticks"))

    def __init__(self, *args: Any, came: Sequence[LotSticks], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sticks = {row.lot.pk: row.sticks for row in came}
        self.fields["lot"].queryset = Lot.objects.of(self.organisation).filter(pk__in=sticks)
        self.fields["lot"].label_from_instance = lambda lot: (
            gettext("%(reference)s, which gave %(sticks)s")
            % {"reference": lot.reference, "sticks": format_count(sticks[lot.pk])}
        )


class ToleranceForm(OrgModelForm):
    class Meta:
        model = HoopBatch
        fields = ["span_tolerance", "rise_tolerance", "twist_tolerance"]
        labels = {
            "span_tolerance": _("Free span may be off by"),
            "rise_tolerance": _("Rise may be off by"),
            "twist_tolerance": _("Twist may be up to"),
        }


class AcceptOutsideForm(OrgForm):
    reason = forms.CharField(
        label=_("Why it is good all the same"),
        max_length=200,
        help_text=_("It stands on the batch and on the bending sheet."),
        error_messages={"required": _("Say why in a few words, for example: the posts take that much spring-in.")},
    )


SAME, FRESH = "same", "fresh"


class TrialForm(OrgForm):
    """``before``: the trial hoop before, where sticks of it may have been bent again; None where none are left."""

    free_span = LengthFormField(
        label=_("Free span"),
        help_text=_("Between the hoop's ends, centre to centre, the hoop lying flat and free."),
        error_messages={
            "required": ByUnits(
                gettext_noop("Measure between the hoop's ends and type it, for example 13' 1\"."),
                gettext_noop("Measure between the hoop's ends and type it, for example 3990 mm."),
            )
        },
    )
    rise = LengthFormField(
        label=_("Rise"),
        help_text=_("From the line through the ends to the centre of the crown."),
        error_messages={"required": _("Measure from the line through the ends to the crown and type it.")},
    )
    last_gap = LengthFormField(
        label=_("Measured stop gap"),
        small=True,
        required=False,
        help_text=_("Between pipe and bender when the last pull ended."),
    )
    twist = LengthFormField(
        label=_("Twist out of plane"),
        small=True,
        required=False,
        help_text=_("How far one end lifts, the rest lying flat."),
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)
    sticks = forms.ChoiceField(
        label=_("Which sticks it is bent of"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose which sticks this trial hoop is bent of.")},
    )
    lot = forms.ModelChoiceField(
        Lot.objects.none(),
        label=_("Lot of the fresh sticks"),
        required=False,
        empty_label=_("None"),
        help_text=_("Only for fresh sticks: they are issued as you record the trial hoop."),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, batch: HoopBatch, before: TrialHoop | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["free_span"].sense, self.fields["rise"].sense = ACROSS, RISE
        if before is None:
            for name in ("sticks", "lot", "seen"):
                del self.fields[name]
            return
        self.fields["sticks"].choices = [
            (
                SAME,
                gettext("The sticks of trial hoop %(attempt)s, %(before)s")
                % {"attempt": before.attempt, "before": again_words(before)},
            ),
            (
                FRESH,
                gettext("Fresh sticks; those of trial hoop %(attempt)s are written off") % {"attempt": before.attempt},
            ),
        ]
        self.fields["sticks"].initial = SAME if before.verdict == Verdict.UNDER_BENT else None
        self.fields["lot"].queryset = lots_for(batch=batch)
        self.fields["lot"].label_from_instance = lot_words
        self.fields["seen"].initial = before.attempt

    def sticks_said(self) -> dict[str, Any]:
        """As the service takes it."""
        said = self.cleaned_data
        return {
            "same_sticks": {SAME: True, FRESH: False}.get(said.get("sticks", "")),
            "lot": said.get("lot"),
            "seen": said.get("seen"),
        }


class SpoiltForm(OrgForm):
    quantity = CountField(label=_("Spoilt sticks"))
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        error_messages={"required": _("Say why in a few words, for example: bent too far.")},
    )


class BentForm(OrgForm):
    hoops = CountField(label=_("Hoops bent since the last entry"), most=MAX_HOOPS)
    note = forms.CharField(label=_("Note"), max_length=200, required=False)


SPOILT, WRONG = "spoilt", "wrong"


class TakeBackForm(OrgForm):
    hoops = CountField(label=_("Hoops that do not count"), most=MAX_HOOPS)
    what = forms.ChoiceField(
        label=_("What became of them"),
        widget=forms.RadioSelect,
        choices=[
            (SPOILT, _("They are spoilt; their sticks are scrap")),
            (WRONG, _("They were counted wrongly; their sticks are not bent")),
        ],
        error_messages={"required": _("Choose what became of them.")},
    )
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        error_messages={"required": _("Say why in a few words, for example: kinked when set.")},
    )


class FinishForm(OrgForm):
    short = forms.BooleanField(label=_("It ends with fewer hoops than wanted"), required=False)
