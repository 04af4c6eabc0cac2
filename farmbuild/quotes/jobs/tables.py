"""The table of jobs."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import FarmTable, QuantityColumn
from farmbuild.quotes.models import Job


class JobTable(FarmTable):
    phone = (("name", "state"), ("customer", "reference"))

    name = tables.Column("What it is")
    reference = tables.Column("Job", order_by="number")
    customer = tables.Column("Customer", order_by=("customer__name", "number"))
    site = tables.Column("Site", order_by=("site__name", "number"))
    quote_count = QuantityColumn(verbose_name="Quotes")
    state = tables.Column("State")

    class Meta:
        model = Job
        fields = ("name", "reference", "customer", "site", "quote_count", "state")

    def row_link(self, record: Any) -> str:
        return reverse("quotes:job", args=[record.number])
