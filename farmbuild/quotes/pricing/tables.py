"""Tables of quotes, and of the lines of an option."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import FarmTable, MoneyColumn, QuantityColumn
from farmbuild.quotes.models import Quote


class QuoteTable(FarmTable):
    phone = (("reference", "state"), ("customer", "job"))

    reference = tables.Column(gettext_lazy("Quote"), order_by="number")
    customer = tables.Column(
        gettext_lazy("Customer"), accessor="job__customer__name", order_by=("job__customer__name", "number")
    )
    job = tables.Column(gettext_lazy("Job"), accessor="job__name", order_by=("job__name", "number"))
    option_count = QuantityColumn(verbose_name=gettext_lazy("Options"))
    state = tables.Column(gettext_lazy("State"), accessor="job__get_state_display", order_by=("job__state", "number"))

    class Meta:
        model = Quote
        fields = ("reference", "customer", "job", "option_count", "state")

    def row_link(self, record: Any) -> str:
        return reverse("quotes:quote", args=[record.number])


class LineTable(FarmTable):
    """Rows: ``presenters.LineShown``."""

    phone = (("what", "cost"), ("quantity", "price", "source"))
    phone_words = {"price": gettext_lazy("at")}

    what = tables.Column(gettext_lazy("What"), orderable=False)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Quantity"), orderable=False)
    price = MoneyColumn(gettext_lazy("Price of one"), orderable=False)
    cost = MoneyColumn(gettext_lazy("Cost"), orderable=False, total=True)
    source = tables.Column(gettext_lazy("Where it comes from"), orderable=False)

    class Meta:
        fields = ("what", "quantity", "price", "cost", "source")

    def row_link(self, record: Any) -> str | None:
        return record.address
