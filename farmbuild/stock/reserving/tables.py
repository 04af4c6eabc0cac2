"""Tables of who holds what."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.speaking import said
from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn, QuantityColumn
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.words import for_whom, length_of, material_of, where
from farmbuild.stock.words import material_words


class ReservationTable(FarmTable):
    """Rows are reservations with all that ``selectors.reservations_of`` loads."""

    phone = (("material", "quantity"), ("house", "purpose", "length"))
    phone_words = {"length": ""}

    house = tables.Column(gettext_lazy("For"), orderable=False)
    purpose = tables.Column(gettext_lazy("Use"), orderable=False)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Held"), orderable=False)
    material = tables.Column(gettext_lazy("Material"), empty_values=(), orderable=False)
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"), empty_values=(), orderable=False)
    where = tables.Column(gettext_lazy("Where"), empty_values=(), orderable=False)
    need_by = DayColumn(verbose_name=gettext_lazy("Needed by"), orderable=False)
    plan = tables.Column(
        gettext_lazy("Plan"), accessor="plan__number", orderable=False, attrs={"cell": {"class": "figure"}}
    )

    class Meta(FarmTable.Meta):
        model = Reservation
        fields: tuple[str, ...] = ()
        sequence = ("house", "purpose", "quantity", "material", "length", "where", "need_by", "plan")
        empty_text = gettext_lazy("Nobody holds anything here.")

    def row_link(self, record: Any) -> str:
        return reverse("stock:held-one", args=[record.pk])

    def render_house(self, record: Reservation) -> str:
        return for_whom(record)

    def render_purpose(self, record: Reservation) -> str:
        return said(record.purpose)

    def render_material(self, record: Reservation) -> str:
        offcut = record.lot is not None and record.lot.offcut
        return material_words(material_of(record), offcut=offcut)

    def render_length(self, record: Reservation) -> Any:
        value = length_of(record)
        return "" if value is None else self.base_columns["length"].shown(value, self)

    def render_where(self, record: Reservation) -> str:
        text = where(record)
        return f"{text[0].upper()}{text[1:]}"
