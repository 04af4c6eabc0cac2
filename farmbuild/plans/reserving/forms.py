"""Forms about holds. What may be done is decided by the services."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.fields import CountField
from farmbuild.catalogue.models import Material
from farmbuild.common.forms import OrgForm
from farmbuild.sites.house_choice import HouseChoiceField
from farmbuild.sites.models import House
from farmbuild.stock.forms import PlainSelect, paper_field


class ReservationFilter(OrgForm):
    """What narrows the list of holds; every field may be left out."""

    WHERE = [
        ("", gettext_lazy("In the yard and on order")),
        ("yard", gettext_lazy("In the yard")),
        ("coming", gettext_lazy("On order")),
    ]

    material = forms.ModelChoiceField(
        Material.objects.all(),
        to_field_name="code",
        required=False,
        empty_label=gettext_lazy("All materials"),
        label=gettext_lazy("Material"),
        widget=PlainSelect,
    )
    house = HouseChoiceField(
        House.objects.all(),
        label=gettext_lazy("House"),
        to_field_name="slug",
        empty_label=gettext_lazy("All houses"),
        widget=PlainSelect,
    )
    where = forms.ChoiceField(label=gettext_lazy("Where"), choices=WHERE, required=False, widget=PlainSelect)

    plan = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def filter_rows(self, rows: Any) -> Any:
        """The holds that fit; what cannot be read narrows nothing."""
        data = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        if material := data.get("material"):
            rows = rows.filter(lot__material=material) | rows.filter(order_line__material=material)
        if house := data.get("house"):
            rows = rows.filter(house=house)
        if plan := data.get("plan"):
            rows = rows.filter(plan__number=plan)
        if where := data.get("where"):
            rows = rows.filter(lot__isnull=where == "coming")
        return rows


class ReleaseForm(OrgForm):
    quantity = CountField(label=gettext_lazy("Pieces to release"))


class CutReservedForm(OrgForm):
    sticks = CountField(label=gettext_lazy("Sticks to cut"))
    paper = paper_field()


class SwapForm(OrgForm):
    """``seen`` is what the page showed; only that is swapped."""

    quantity = CountField(label=gettext_lazy("Pieces to swap"))
    seen = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200)
