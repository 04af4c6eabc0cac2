"""Tables of bills."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn
from farmbuild.quotes.models import Bill


class BillTable(FarmTable):
    phone = (("what", "due"), ("reference", "day", "job"))

    what = tables.Column(gettext_lazy("For what"), order_by=("what", "number"))
    reference = tables.Column(gettext_lazy("Bill"), order_by="number")
    job = tables.Column(gettext_lazy("Job"), order_by=("job__number", "number"))
    day = DayColumn(verbose_name=gettext_lazy("Day"), order_by=("day", "number"))
    billed = MoneyColumn(verbose_name=gettext_lazy("Before tax"), order_by=("billed", "number"))
    kept = MoneyColumn(verbose_name=gettext_lazy("Kept back"), order_by=("kept", "number"))
    tax = MoneyColumn(verbose_name=gettext_lazy("Tax"), order_by=("tax", "number"))
    due = MoneyColumn(verbose_name=gettext_lazy("To be paid"), order_by=("due", "number"))

    class Meta:
        model = Bill
        fields = ("what", "reference", "job", "day", "billed", "kept", "tax", "due")

    def row_link(self, record: Any) -> str:
        return reverse("quotes:bill", args=[record.number])
