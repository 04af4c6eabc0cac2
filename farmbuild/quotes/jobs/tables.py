"""The table of jobs."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import FarmTable, QuantityColumn
from farmbuild.quotes.models import Job


class JobTable(FarmTable):
    phone = (("name", "state"), ("customer", "reference"))

    name = tables.Column(gettext_lazy("What it is"))
    reference = tables.Column(gettext_lazy("Job"), order_by="number")
    customer = tables.Column(gettext_lazy("Customer"), order_by=("customer__name", "number"))
    site = tables.Column(gettext_lazy("Site"), order_by=("site__name", "number"))
    quote_count = QuantityColumn(verbose_name=gettext_lazy("Quotes"))
    state = tables.Column(gettext_lazy("State"))

    class Meta:
        model = Job
        fields = ("name", "reference", "customer", "site", "quote_count", "state")

    def row_link(self, record: Any) -> str:
        return reverse("quotes:job", args=[record.number])
