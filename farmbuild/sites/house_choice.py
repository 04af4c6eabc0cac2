"""A house to be chosen in a form, with its site: houses of several sites may have one name."""

from __future__ import annotations

from typing import Any

from django import forms

from farmbuild.sites.models import House


def house_at(house: House) -> str:
    """North Field 2, Home farm. Its site is loaded."""
    return f"{house.name}, {house.site}"


class HouseChoiceField(forms.ModelChoiceField):
    """Of all houses of the organisation that are in use where no other queryset is given."""

    def __init__(self, queryset: Any = None, *, required: bool = False, **kwargs: Any) -> None:
        rows = House.objects.filter(archived_at=None) if queryset is None else queryset
        super().__init__(rows.select_related("site").order_by("name", "site__name", "pk"), required=required, **kwargs)

    def label_from_instance(self, house: House) -> str:
        return house_at(house)
