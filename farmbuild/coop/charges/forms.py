"""Forms of prices for members, damage, and taking back."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.fields import CountField, MoneyField, use_organisation
from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.coop.models import ChargeRate
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.clock import today


class MoneyForm(OrgForm):
    """Amounts are in the organisation's currency."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)


class ChargeRateForm(MoneyForm):
    kind = forms.ChoiceField(label=gettext_lazy("For"), choices=ChargeRate.Kind.choices)
    bender = forms.ModelChoiceField(
        label=gettext_lazy("Bender"),
        queryset=Bender.objects.none(),
        required=False,
        empty_label=gettext_lazy("Every bender without its own price"),
    )
    each = MoneyField(
        label=gettext_lazy("Price"), error_messages={"required": gettext_lazy("Type the price, 0 for nothing.")}
    )
    since = DayField(label=gettext_lazy("From this day on"), initial=today)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bender"].queryset = benders_of(organisation=self.organisation)


class FreeDaysForm(OrgForm):
    days = CountField(
        label=gettext_lazy("Free days a share and season"),
        least=0,
        most=366,
        help_text=gettext_lazy("The first days that a member has a bender in a season. 0: none."),
        error_messages={"required": gettext_lazy("Type how many days, 0 for none.")},
    )
    since = DayField(label=gettext_lazy("From this day on"), initial=today)


class DamageForm(MoneyForm):
    what = forms.CharField(
        label=gettext_lazy("What is damaged"),
        max_length=200,
        help_text=gettext_lazy("The member reads this, with the photos."),
        error_messages={"required": gettext_lazy("Say what is damaged, for example: roller bent, needs a new one.")},
    )
    amount = MoneyField(
        label=gettext_lazy("Amount"),
        places=3,
        error_messages={"required": gettext_lazy("Type what the member is asked for.")},
    )


class DisputeForm(OrgForm):
    why = forms.CharField(
        label=gettext_lazy("Why it is not owed"),
        max_length=400,
        error_messages={
            "required": gettext_lazy("Say why in a few words, for example: it was bent when we fetched it.")
        },
    )


class AnswerForm(OrgForm):
    """``disputed``: it may stand, too."""

    withdraw = forms.TypedChoiceField(
        label=gettext_lazy("What becomes of it"),
        choices=[("0", gettext_lazy("It stands")), ("1", gettext_lazy("Nothing is asked for it any more"))],
        widget=forms.RadioSelect,
        coerce=lambda value: value == "1",
        error_messages={"required": gettext_lazy("Choose one of the two.")},
    )
    answer = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        help_text=gettext_lazy("The member reads this."),
        error_messages={"required": gettext_lazy("Say why in a few words. The member reads this.")},
    )

    def __init__(self, *args: Any, disputed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not disputed:
            self.fields["withdraw"].choices = self.fields["withdraw"].choices[1:]
            self.fields["withdraw"].initial = "1"


class BackForm(OrgForm):
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        help_text=gettext_lazy("It stands on the member's statement."),
        error_messages={"required": gettext_lazy("Say why in a few words, for example: it was another member's.")},
    )
