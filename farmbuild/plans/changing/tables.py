"""The table of what a plan changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from farmbuild.common.templatetags.farm import day
from farmbuild.plans.house_changes import Kind, Row

WHAT = {
    Kind.MORE: "more to order",
    Kind.DRAFT: "less: not sent, cancelled with its draft",
    Kind.SENT: "less: ask to leave it out",
    Kind.YARD: "lies over in the yard, free again",
    Kind.ASK: "more of common stock: asked for",
    Kind.WITHDRAW: "less of common stock: withdrawn",
}


class ChangeTable(FarmTable):
    """Rows are house_changes.Row; ``names``: of materials by code."""

    phone = (("material", "quantity"), ("what", "days", "supplier"))

    material = tables.Column(gettext_lazy("Material"), empty_values=())
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"))
    quantity = QuantityColumn(verbose_name=gettext_lazy("Pieces"), accessor="pieces", default="–")
    what = tables.Column(gettext_lazy("What"), accessor="kind")
    supplier = tables.Column(gettext_lazy("Supplier"), default="–")
    order = tables.Column(gettext_lazy("Order"), default="–")
    days = tables.Column(gettext_lazy("There on"), accessor="day", default="–")
    money = MoneyColumn(verbose_name=gettext_lazy("Money"))

    class Meta:
        orderable = False
        empty_text = gettext_lazy("Nothing changes.")

    def __init__(self, *args: Any, names: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.names = names

    def row_link(self, record: Row) -> str | None:
        if record.lot:
            return reverse("stock:lot", args=[record.lot])
        return reverse("buying:order", args=[record.order]) if record.order else None

    def render_material(self, record: Row) -> str:
        return self.names.get(record.material, record.material) if record.material else "Delivery"

    def render_what(self, value: Kind) -> str:
        return WHAT[value]

    def render_days(self, record: Row) -> str:
        if record.kind is Kind.SENT:
            return f"due {day(record.day)}"
        if record.day is None:
            return "–"
        late = (
            f", {record.late_days} day{'' if record.late_days == 1 else 's'} late" if record.late_days else ", in time"
        )
        return f"{day(record.day)}{late}"
