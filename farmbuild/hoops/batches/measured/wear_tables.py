"""Tables of a bender's services and of hoops measured elsewhere, those that were taken back too."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from farmbuild.hoops.batches.measured.models import MeasuredHoop, OfBender, ServiceRecord


class _OfBenderTable(FarmTable):
    address = ""

    def row_link(self, record: Any) -> str | None:
        """Where it is taken back; of one that is, no page."""
        return None if record.removed_at else reverse(self.address, args=[record.bender.slug, record.pk])

    def render_stands(self, record: OfBender) -> str:
        return (
            gettext("taken back: %(removed_reason)s") % {"removed_reason": record.removed_reason}
            if record.removed_at
            else ""
        )


class ServiceTable(_OfBenderTable):
    address = "hoops:bender-service-back"
    phone = (("done", "pulls"), ("day", "who", "stands"))

    day = DayColumn(gettext_lazy("Day"), orderable=False)
    done = tables.Column(gettext_lazy("What was done"), orderable=False)
    who = tables.Column(gettext_lazy("Who"), orderable=False)
    parts = tables.Column(gettext_lazy("Parts"), orderable=False, default="")
    pulls = QuantityColumn(verbose_name=gettext_lazy("Pulls then"), orderable=False)
    cost = MoneyColumn(verbose_name=gettext_lazy("Cost"), orderable=False)
    stands = tables.Column("", accessor="pk", orderable=False)

    class Meta:
        model = ServiceRecord
        fields = ("day", "done", "who", "parts", "pulls", "cost", "stands")
        empty_text = gettext_lazy("No service is written down.")


class HoopTable(_OfBenderTable):
    address = "hoops:bender-hoop-back"
    phone = (("day", "radius"), ("tube", "member", "stands"))

    day = DayColumn(gettext_lazy("Measured on"), orderable=False)
    member = tables.Column(gettext_lazy("By"), orderable=False, default=gettext_lazy("us"))
    tube = tables.Column(gettext_lazy("Pipe"), accessor="tube__name", orderable=False)
    free_span = LengthColumn(verbose_name=gettext_lazy("Free span"), orderable=False)
    rise = LengthColumn(verbose_name=gettext_lazy("Rise"), orderable=False)
    radius = LengthColumn(verbose_name=gettext_lazy("Radius"), orderable=False)
    stands = tables.Column("", accessor="pk", orderable=False)

    class Meta:
        model = MeasuredHoop
        fields = ("day", "member", "tube", "free_span", "rise", "radius", "stands")
        empty_text = gettext_lazy("No hoop of a member is written down.")
