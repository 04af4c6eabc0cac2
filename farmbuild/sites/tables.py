"""Tables of houses and sites."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy

from farmbuild.common.speaking import said, said_noun
from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn, QuantityColumn
from farmbuild.common.templatetags.farm import working
from farmbuild.sites.models import Site


class SiteTable(FarmTable):
    phone = (("name", "house_count"), ("next_need", "address"))
    phone_words = {"next_need": gettext_lazy("Next needed by")}

    name = tables.Column(gettext_lazy("Site"))
    address = tables.Column(gettext_lazy("Address"), orderable=False)
    house_count = QuantityColumn(verbose_name=gettext_lazy("Houses"))
    next_need = DayColumn(gettext_lazy("Next materials needed by"))

    class Meta:
        model = Site
        fields = ("name", "address", "house_count", "next_need")
        order_by = "name"
        empty_text = gettext_lazy("No sites here.")

    def row_link(self, record: Any) -> str:
        return reverse("sites:site", args=[record.slug])


class WorkingColumn(tables.Column):
    """How the row's quantity was worked out, folded away."""

    def render(self, value: str) -> str:
        return working(value)


class AmountColumn(QuantityColumn):
    """A count with the unit of its own row."""

    def render(self, value: int, record: dict, table: FarmTable) -> str:
        unit = record["unit"]
        if unit == "each":
            return self.shown(value, table)
        return f"{self.shown(value, table)} {said_noun(value, unit.removesuffix('s'))}"


class TakeoffTable(FarmTable):
    phone = (("material_name", "quantity"), ("length", "purpose", "working"))
    phone_words = {"quantity": "", "length": ""}

    material_name = tables.Column(gettext_lazy("Material"))
    purpose = tables.Column(gettext_lazy("For"))
    length = LengthColumn(verbose_name=gettext_lazy("Length"))
    quantity = AmountColumn(verbose_name=gettext_lazy("Quantity"))
    working = WorkingColumn(verbose_name=gettext_lazy("Working"))

    class Meta:
        orderable = False
        empty_text = gettext_lazy("This house takes nothing.")

    def render_purpose(self, value: str) -> str:
        return capfirst(said(value))


class TotalsTable(FarmTable):
    phone = (("material_name", "quantity"), ("length", "total_length"))
    phone_words = {"quantity": "", "length": "", "total_length": gettext_lazy("in all")}

    material_name = tables.Column(gettext_lazy("Material"))
    length = LengthColumn(verbose_name=gettext_lazy("Length"))
    quantity = AmountColumn(verbose_name=gettext_lazy("Quantity"))
    total_length = LengthColumn(verbose_name=gettext_lazy("Length in all"))

    class Meta:
        orderable = False
        empty_text = gettext_lazy("This house takes nothing.")
