"""The table of benders."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn
from farmbuild.hoops.benders.models import Bender


class BenderTable(FarmTable):
    phone = (("name",), ("rated_span", "measured_radius", "kept_at"))

    name = tables.Column(gettext_lazy("Bender"))
    rated_span = LengthColumn(verbose_name=gettext_lazy("House span"))
    rated_radius = LengthColumn(verbose_name=gettext_lazy("Rated radius"))
    measured_radius = LengthColumn(verbose_name=gettext_lazy("Measured"), default=gettext_lazy("not yet"))
    measured_at = DayColumn(gettext_lazy("Last measured"), default=gettext_lazy("never"))
    kept_at = tables.Column(gettext_lazy("Where it is"), default=gettext_lazy("not said"))

    class Meta:
        model = Bender
        fields = ("name", "rated_span", "rated_radius", "measured_radius", "measured_at", "kept_at")
        empty_text = gettext_lazy("No benders here.")

    def row_link(self, record: Any) -> str:
        return reverse("hoops:bender", args=[record.slug])
