"""The table of what a plan changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said, said_count
from farmbuild.common.tables import FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from farmbuild.common.templatetags.farm import day
from farmbuild.measure.speech import gettext_noop
from farmbuild.plans.house_changes import Kind, Row

WHAT = {
    Kind.MORE: gettext_noop("more to order"),
    Kind.DRAFT: gettext_noop("less: not sent, cancelled with its draft"),
    Kind.SENT: gettext_noop("less: ask to leave it out"),
    Kind.YARD: gettext_noop("lies over in the yard, free again"),
    Kind.ASK: gettext_noop("more of common stock: asked for"),
    Kind.WITHDRAW: gettext_noop("less of common stock: withdrawn"),
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
        return self.names.get(record.material, record.material) if record.material else gettext("Delivery")

    def render_what(self, value: Kind) -> str:
        return said(WHAT[value])

    def render_days(self, record: Row) -> str:
        if record.kind is Kind.SENT:
            return gettext("due %(day)s") % {"day": day(record.day)}
        if record.day is None:
            return "–"
        if not record.late_days:
            return gettext("%(day)s, in time") % {"day": day(record.day)}
        days = said_count(record.late_days, "day")
        return gettext("%(day)s, %(days)s late") % {"day": day(record.day), "days": days}
