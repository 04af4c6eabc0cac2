"""Forms of people, crews, skills, days off and the settings of work."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms
from django.db.models import Q
from django.forms.models import ModelChoiceIterator
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.crew.models import Crew, CrewSettings, Person
from farmbuild.crew.people.selectors import sign_ins_for, skills_of
from farmbuild.orgs.models import User

EVERYBODY = "everybody"


class SettingsForm(OrgModelForm):
    class Meta:
        model = CrewSettings
        fields = ["travel_minutes"]
        labels = {"travel_minutes": _("Minutes on the road where the travel page lists none")}
        help_texts = {
            "travel_minutes": _("Between any two sites, one way. Planned in quarters of an hour, rounded up.")
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_integer_messages(self)


class SkillForm(OrgForm):
    name = forms.CharField(
        label=_("Skill"),
        max_length=80,
        help_text=_("What not everybody may or can do, for example ladder work."),
        error_messages={"required": _("Type what the skill is called, for example ladder work.")},
    )


class CrewForm(OrgModelForm):
    class Meta:
        model = Crew
        fields = ["name", "week"]
        labels = {"name": _("Crew"), "week": _("Working hours")}
        help_texts = {"name": _("People who go to a site together and do one task at a time.")}
        error_messages = {
            "name": {"required": _("Type what the crew is called, for example Frame crew.")},
            "week": {"required": _("Choose the hours that this crew works.")},
        }


class PersonForm(OrgModelForm):
    class Meta:
        model = Person
        fields = ["name", "crew", "skills"]
        labels = {"name": _("Name"), "crew": _("Crew"), "skills": _("Skills")}
        help_texts = {"crew": _("Someone in no crew is not counted when work is planned.")}
        widgets = {"skills": forms.CheckboxSelectMultiple}
        error_messages = {"name": {"required": _("Type the name of the person.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        mine = Q(archived_at=None) | Q(pk=self.instance.crew_id)
        self.fields["crew"].queryset = Crew.objects.of(self.organisation).filter(mine)
        self.fields["crew"].empty_label = gettext("No crew")
        self.fields["skills"].queryset = skills_of(organisation=self.organisation)
        if not self.fields["skills"].queryset.exists():
            del self.fields["skills"]
        self.fields["user"] = forms.ModelChoiceField(
            label=gettext("Signs in as"),
            queryset=sign_ins_for(organisation=self.organisation, person=self.instance),
            required=False,
            initial=self.instance.user_id,
            empty_label=gettext("Nobody"),
            help_text=gettext("The sign-in that opens this person's own day."),
            error_messages={"invalid_choice": gettext("This sign-in is not free any more. Choose one from the list.")},
        )
        self.fields["user"].label_from_instance = _sign_in


def _sign_in(user: User) -> str:
    full = user.get_full_name()
    return f"{user.get_username()} ({full})" if full else user.get_username()


class DayField(forms.DateField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            error_messages={
                "required": _("Type the day, for example 2027-05-12."),
                "invalid": _("Type a day that the calendar has, as year-month-day, for example 2027-05-12."),
            },
            **kwargs,
        )


class _WhoIterator(ModelChoiceIterator):
    def __iter__(self) -> Iterator[tuple[Any, str]]:
        first, *rows = super().__iter__()
        return iter([first, (EVERYBODY, gettext("Everybody")), *rows])


class WhoField(forms.ModelChoiceField):
    """A person, or everybody (None) by a choice of its own, so that nobody is sent home by a box left alone."""

    iterator = _WhoIterator

    def clean(self, value: Any) -> Person | None:
        return None if value == EVERYBODY else super().clean(value)


class DaysOffForm(OrgForm):
    person = WhoField(
        label=_("Who"),
        queryset=Person.objects.filter(archived_at=None),
        empty_label=_("Choose one"),
        error_messages={"required": _("Choose who is off, or everybody.")},
    )
    first = DayField(label=_("First day off"))
    last = DayField(label=_("Last day off"), required=False, help_text=_("Empty: the one day."))
    reason = forms.CharField(
        label=_("Reason"), max_length=120, required=False, help_text=_("Everybody here can read it.")
    )
