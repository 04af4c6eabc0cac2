"""Forms of sending and accepting. What may be stored is decided by the services and models."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.measure import format_money
from farmbuild.orgs.clock import today
from farmbuild.quotes.bridge import Offered
from farmbuild.quotes.sending.links import DAYS
from farmbuild.sites.models import Site


def days_on(days: int) -> date:
    """So many days from today."""
    return today() + timedelta(days=days)


HOW_SENT = gettext_lazy("For example: by e-mail, or handed over.")


class SendQuoteForm(OrgForm):
    valid_until = DayField(label=gettext_lazy("Holds until"))
    how = forms.CharField(label=gettext_lazy("How it is sent"), max_length=120, required=False, help_text=HOW_SENT)


class LinkForm(OrgForm):
    days = WholeFormField(label=gettext_lazy("Days that the link lasts"), initial=DAYS, min_value=1, max_value=366)

    def __init__(self, *args: Any, email: str = "", **kwargs: Any) -> None:
        """``email``: of the customer, where this server sends e-mail."""
        super().__init__(*args, **kwargs)
        if email:
            self.fields["by_email"] = forms.BooleanField(
                label=gettext("Send it to %(email)s") % {"email": email}, required=False
            )


class AcceptForm(forms.Form):
    """``offered``: more than one option is chosen from; one is taken as it is."""

    name = forms.CharField(
        label=gettext_lazy("Your name"),
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={
            "required": gettext_lazy("Type the name of who accepts."),
            "max_length": gettext_lazy("A name is up to 120 letters long."),
        },
    )
    day = DayField(label=gettext_lazy("Day"), initial=today)

    field_order = ["option", "name", "day"]

    def __init__(self, *args: Any, offered: Offered, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if len(offered.options) > 1:
            self.fields["option"] = forms.TypedChoiceField(
                label=gettext_lazy("Which option"),
                choices=[
                    (option.option, f"{option.name}: {format_money(option.total, offered.currency)}")
                    for option in offered.options
                ],
                coerce=int,
                widget=forms.RadioSelect,
                error_messages=dict.fromkeys(("required", "invalid_choice"), gettext("Choose one of the options.")),
            )
            self.order_fields(self.field_order)
        self.only = offered.options[0].option

    def option(self) -> int:
        return self.cleaned_data.get("option", self.only)


class BehalfForm(AcceptForm):
    how = forms.CharField(
        label=gettext_lazy("How it was said"),
        max_length=120,
        help_text=gettext_lazy("For example: by telephone, or by letter."),
    )
    site = forms.ModelChoiceField(
        Site.objects.none(),
        label=gettext_lazy("Where it is built"),
        required=False,
        empty_label=gettext_lazy("A new site for this customer"),
    )

    field_order = ["option", "name", "day", "how", "site"]

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].label = gettext("Who accepts")
        self.fields["site"].queryset = sites
