"""The table of customers."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import FarmTable, QuantityColumn
from farmbuild.quotes.models import Customer


class CustomerTable(FarmTable):
    phone = (("name", "live_jobs"), ("contact", "phone_number"))
    phone_words = {"live_jobs": gettext_lazy("open")}

    name = tables.Column(gettext_lazy("Name"))
    live_jobs = QuantityColumn(verbose_name=gettext_lazy("Open jobs"))
    all_jobs = QuantityColumn(verbose_name=gettext_lazy("All jobs"))
    contact = tables.Column(gettext_lazy("Ask for"))
    phone_number = tables.Column(gettext_lazy("Phone"), accessor="phone")

    class Meta:
        model = Customer
        fields = ("name", "live_jobs", "all_jobs", "contact", "phone_number")

    def row_link(self, record: Any) -> str:
        return reverse("quotes:customer", args=[record.slug])
