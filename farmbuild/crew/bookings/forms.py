"""Forms of members, requests, bookings and the condition of a bender."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.models import Material
from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.common.templatetags.farm import length_plain
from farmbuild.crew.bookings.history import place_of
from farmbuild.crew.bookings.moving import benders_for
from farmbuild.crew.models import BenderBooking, BenderRequest, Member, SharingRules
from farmbuild.crew.people.forms import DayField
from farmbuild.crew.problems.forms import ACCEPT, PhotoInput, PhotosField
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import User

MAX_PULLS = 1_000_000
PULLS_WORDS = _("Type how many pulls as a whole number, for example 120.")


class MemberForm(OrgModelForm):
    class Meta:
        model = Member
        fields = ["name", "contact", "share"]
        labels = {"name": _("Member"), "contact": _("Contact"), "share": _("Shares")}
        help_texts = {
            "name": _("A farm that borrows your benders."),
            "contact": _("Whom to ring when it is late."),
            "share": _("With 2 shares, a member may have twice the days of one with 1."),
        }
        error_messages = {"name": {"required": _("Type what the farm is called.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)


class SharingRulesForm(OrgModelForm):
    together = forms.TypedChoiceField(
        label=_("Several wishes of a member"),
        choices=[("True", _("count as one")), ("False", _("count each by itself"))],
        coerce=lambda value: value == "True",
        help_text=_("As one: whoever asks twice gains nothing by it."),
    )

    class Meta:
        model = SharingRules
        fields = [
            "season_month",
            "season_day",
            "last_season_percent",
            "together",
            "most_days_open",
            "days_a_week_sooner",
        ]
        labels = {
            "season_month": _("A season starts in"),
            "season_day": _("On day"),
            "last_season_percent": _("Of 100 days last season, so many count"),
            "most_days_open": _("Days that a member may have open at a time"),
            "days_a_week_sooner": _("A week sooner counts as so many days fewer"),
        }
        help_texts = {
            "season_month": _("From then on, the days that each had are counted anew."),
            "last_season_percent": _("0: last season is forgotten. 100: it counts like this one."),
            "most_days_open": _("Booked, out and proposed together. Empty: any number."),
            "days_a_week_sooner": _("Days a share. 0: the day it is needed back decides only between equals."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)


class SignInForm(OrgForm):
    name = forms.CharField(
        label=_("Who"),
        max_length=150,
        error_messages={"required": _("Type the name of the person, for example Ida Marrow.")},
    )
    username = forms.CharField(
        label=_("Signs in as"),
        max_length=150,
        validators=[User.username_validator],
        help_text=_("Letters, figures and . - _ @, for example ida.marrow."),
        error_messages={"required": _("Type what the person signs in as, for example ida.marrow.")},
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off", "spellcheck": "false"}),
    )


class BenderField(forms.ModelChoiceField):
    """With the house span, since another span is another radius."""

    def label_from_instance(self, bender: Bender) -> str:
        return gettext("%(bender)s, for houses %(rated_span)s wide") % {
            "bender": bender,
            "rated_span": length_plain(bender.rated_span, bender.organisation),
        }


class BookingForm(OrgForm):
    bender = forms.ModelChoiceField(label=_("Bender"), queryset=Bender.objects.filter(archived_at=None))
    member = forms.ModelChoiceField(
        label=_("For"), queryset=Member.objects.filter(archived_at=None), required=False, empty_label=_("Our own work")
    )
    first = DayField(label=_("First day"))
    last = DayField(label=_("Last day, included"))


class MoveForm(OrgForm):
    """Give ``booking``. One that is out has its last day alone."""

    bender = BenderField(label=_("Bender"), queryset=Bender.objects.all())
    first = DayField(label=_("First day"))
    last = DayField(label=_("Last day, included"))
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, booking: BenderBooking, **kwargs: Any) -> None:
        where = place_of(booking)
        kwargs["initial"] = {"bender": where.bender, "first": where.first, "last": where.last, "seen": where.key}
        super().__init__(*args, **kwargs)
        self.fields["bender"].queryset = benders_for(organisation=self.organisation, booking=booking)
        if booking.state == booking.State.OUT:
            del self.fields["bender"], self.fields["first"]

    def show_now(self, booking: BenderBooking) -> None:
        """The next sending is of the booking as it is now; the reader was told what it is."""
        self.data = self.data.copy()
        self.data["seen"] = place_of(booking).key


class RequestForm(OrgModelForm):
    sole = ("bender",)
    earliest = DayField(label=_("From, at the earliest"))
    need_by = DayField(label=_("Back by, at the latest"), help_text=_("The last day that it may be kept."))

    class Meta:
        model = BenderRequest
        fields = ["member", "bender", "tube", "days", "earliest", "need_by", "note"]
        labels = {
            "member": _("Member"),
            "days": _("Days in a row"),
            "bender": _("Bender"),
            "tube": _("Or any that bends"),
            "note": _("Note"),
        }
        help_texts = {"bender": _("None: any that fits the tube below.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if "member" in self.fields:
            self.fields["member"].queryset = self.fields["member"].queryset.filter(archived_at=None)
        self.fields["bender"].queryset = self.fields["bender"].queryset.filter(archived_at=None)
        self.fields["tube"].queryset = self.fields["tube"].queryset.filter(kind=Material.Kind.TUBE)
        self.fields["bender"].empty_label = gettext("Any that fits")
        self.fields["tube"].empty_label = gettext("Any tube")
        set_integer_messages(self)

    def _post_clean(self) -> None:
        """The service checks; it makes the row."""


class OwnRequestForm(RequestForm):
    """As a member fills it in: its own, and of tubes only those that a bender is for."""

    class Meta(RequestForm.Meta):
        fields = ["bender", "tube", "days", "earliest", "need_by", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        bent = Bender.tubes.through.objects.filter(
            bender__organisation=self.organisation, bender__archived_at=None
        ).values("material")
        self.fields["tube"].queryset = self.fields["tube"].queryset.filter(pk__in=bent)


class ConditionForm(OrgForm):
    condition = forms.CharField(
        label=_("Condition"),
        max_length=200,
        help_text=_("In a few words: sound, or what is bent."),
        error_messages={"required": _("Type the condition of the bender, for example: sound, all bolts tight.")},
    )


class CheckInForm(ConditionForm):
    pulls = WholeFormField(
        label=_("Pulls made with it"),
        required=False,
        min_value=0,
        max_value=MAX_PULLS,
        help_text=_("As whoever brings it back tells. Empty where nobody knows."),
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), PULLS_WORDS),
    )
    photos = PhotosField(
        label=_("Photos"),
        required=False,
        widget=PhotoInput(attrs={"accept": ACCEPT, "multiple": True}),
        help_text=_("Of what is bent or missing. The member sees them."),
    )


class PullsForm(OrgForm):
    pulls = WholeFormField(
        label=_("Pulls made with it"),
        min_value=0,
        max_value=MAX_PULLS,
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), PULLS_WORDS),
    )


class DeclineForm(OrgForm):
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        help_text=_("The member reads this."),
        error_messages={"required": _("Type why, for example: it is being mended until June.")},
    )
