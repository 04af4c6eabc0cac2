"""Forms of leave."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import CountField
from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.sites.house_choice import HouseChoiceField


class LeaveForm(OrgForm):
    """As the owner told it."""

    quantity = CountField(label=gettext_lazy("Pieces that may be taken"))
    house = HouseChoiceField(label=gettext_lazy("For which house"), empty_label=gettext_lazy("Whatever you build"))
    until = DayField(
        label=gettext_lazy("Until"),
        required=False,
        help_text=gettext_lazy("The last day. Left empty, until it is ended."),
    )
    told = forms.CharField(
        label=gettext_lazy("How the owner told it"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say how the owner told it, for example: by telephone on Monday.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["told"].help_text = gettext("For example: by telephone on Monday.")


class EndForm(OrgForm):
    reason = forms.CharField(
        label=gettext_lazy("Why it ends"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why in a few words, for example: the owner needs them.")},
    )
