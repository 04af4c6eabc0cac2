"""The table of what is left."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.money import format_coins
from farmbuild.common.tables import FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from farmbuild.measure import format_count
from farmbuild.plans.seasonend.bridge import Serving
from farmbuild.plans.seasonend.words import serves
from farmbuild.stock.models import Lot
from farmbuild.stock.words import material_words


def age_of(lot: Lot, *, on: date) -> int:
    """Days since it was received."""
    return max(0, (on - lot.received_on).days)


class LeftTable(FarmTable):
    phone = (("material", "left"), ("length", "place", "serves"))
    phone_words = {"length": ""}

    material = tables.Column(
        gettext_lazy("Material"), order_by=("material__name", "material__code", "length", "reference")
    )
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"))
    left = QuantityColumn(
        verbose_name=gettext_lazy("Left"),
        # Nothing where sticks would be added to screws.
        footer=lambda table: format_count(table.totals["pieces"]) if table.totals["alike"] else "",
    )
    place = tables.Column(gettext_lazy("Place"), order_by=("place__name", "pk"))
    value = MoneyColumn(
        verbose_name=gettext_lazy("Value"),
        accessor="worth",
        footer=lambda table: format_coins(table.totals["worth"], table.organisation.currency),
    )
    age = QuantityColumn(
        verbose_name=gettext_lazy("Age"),
        unit=gettext_lazy("days"),
        accessor="received_on",
        order_by=("-received_on", "pk"),
        empty_values=(),
    )
    serves = tables.Column(gettext_lazy("Next houses it would serve"), empty_values=(), orderable=False)
    reference = tables.Column(gettext_lazy("Lot"))

    class Meta:
        empty_text = gettext_lazy("There are no leftovers.")

    def __init__(
        self, *args: Any, totals: dict[str, Any], serving: Mapping[str, Serving] | None, on: date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.totals, self.serving, self.on = totals, serving, on

    def row_link(self, record: Any) -> str:
        return reverse("stock:lot", args=[record.pk])

    def render_material(self, record: Lot) -> str:
        return material_words(record.material, offcut=record.offcut)

    def render_age(self, record: Lot) -> str:
        return format_count(age_of(record, on=self.on))

    def render_serves(self, record: Lot) -> str:
        if self.serving is None:
            return gettext("not worked out")
        return serves(self.serving.get(record.reference), self.organisation)
