"""Asking for a plan."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from django import forms
from django.forms.models import ModelChoiceIterator
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.forms import OrgForm, RowsField
from farmbuild.common.speaking import said_list
from farmbuild.common.templatetags.farm import day
from farmbuild.plans.selectors import cooperatives_of
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import houses_of, sites_of


class _BySite(ModelChoiceIterator):
    """Houses under the name of their site."""

    def __iter__(self) -> Iterator[Any]:
        houses = self.queryset.order_by("site__name", "site", "need_date", "name")
        for site, group in groupby(houses, key=lambda house: house.site):
            yield site.name, [self.choice(house) for house in group]


class HouseTicks(forms.CheckboxSelectMultiple):
    template_name = "plans/house_ticks.html"
    option_template_name = "plans/house_tick.html"


class HousesField(RowsField):
    iterator = _BySite
    widget = HouseTicks

    def label_from_instance(self, house: House) -> str:
        return gettext("%(house)s, needed by %(day)s") % {"house": house.name, "day": day(house.need_date)}


class NewPlanForm(OrgForm):
    name = forms.CharField(
        label=gettext_lazy("Name of the plan"), max_length=120, help_text=gettext_lazy("For example: Spring season.")
    )
    houses = HousesField(
        queryset=House.objects.none(),
        label=gettext_lazy("Houses to plan"),
        error_messages={
            "required": gettext_lazy("Tick at least one house."),
            "invalid_choice": gettext_lazy("A ticked house has been archived or is not yours. Tick again."),
        },
    )
    delivery_site = forms.ModelChoiceField(
        queryset=Site.objects.none(),
        label=gettext_lazy("Deliver to"),
        empty_label=gettext_lazy("Choose a site"),
        help_text=gettext_lazy("For houses on other sites, the drafts send each line to its houses in one press."),
        error_messages={
            "required": gettext_lazy("Choose the site that the suppliers deliver to."),
            "invalid_choice": gettext_lazy("That site has been archived or is not yours. Choose another."),
        },
    )
    as_of = forms.DateField(
        label=gettext_lazy("Plan as of"),
        help_text=gettext_lazy("Orders are taken to go out on this day."),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": gettext_lazy("Type a date, for example 2027-05-12.")},
    )

    from_common = forms.BooleanField(label=gettext_lazy("Take from common stock before buying"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if names := cooperatives_of(organisation=self.organisation):
            words = gettext("Of %(names)s: what is open to you and no dearer than new. You fetch it.")
            self.fields["from_common"].help_text = words % {"names": said_list(names)}
        else:
            del self.fields["from_common"]
        self.fields["houses"].queryset = houses_of(organisation=self.organisation)
        self.fields["delivery_site"].queryset = sites_of(organisation=self.organisation)
