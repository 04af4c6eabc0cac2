"""Tables of lots, movements and places."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.core.paginator import Paginator
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.money import format_coins
from farmbuild.common.tables import FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from farmbuild.measure import format_count
from farmbuild.stock.models import Lot, Place
from farmbuild.stock.selectors import Totals
from farmbuild.stock.values import worth_of
from farmbuild.stock.words import material_words


class CountedPaginator(Paginator):
    """Pages of rows whose number is known already, from the sums over the list, so that it is not asked again."""

    def __init__(self, object_list: Any, per_page: int, *, rows: int, **kwargs: Any) -> None:
        super().__init__(object_list, per_page, **kwargs)
        self.count = rows


class LotTable(FarmTable):
    phone = (("material", "on_hand"), ("length", "free", "place"))
    phone_words = {"length": ""}

    material = tables.Column(
        gettext_lazy("Material"), order_by=("material__name", "material__code", "length", "reference")
    )
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"))
    on_hand = QuantityColumn(
        verbose_name=gettext_lazy("On hand"), footer=lambda table: table.sum_text(table.totals.pieces)
    )
    free = QuantityColumn(
        verbose_name=gettext_lazy("Free"),
        order_by=("free_pieces", "pk"),
        footer=lambda table: table.sum_text(table.totals.free),
    )
    place = tables.Column(gettext_lazy("Place"), order_by=("place__name", "pk"))
    unit_cost = MoneyColumn(verbose_name=gettext_lazy("Cost of one"))
    worth = MoneyColumn(
        verbose_name=gettext_lazy("Value"),
        empty_values=(),
        orderable=False,
        footer=lambda table: format_coins(table.totals.worth, table.organisation.currency),
    )
    owner = tables.Column(gettext_lazy("Owner"), default="", order_by=("owner__name", "pk"))
    supplier = tables.Column(gettext_lazy("Supplier"), order_by=("supplier__name", "pk"))
    reference = tables.Column(gettext_lazy("Reference"))

    class Meta:
        model = Lot
        fields = (
            "material",
            "length",
            "on_hand",
            "free",
            "place",
            "unit_cost",
            "worth",
            "owner",
            "supplier",
            "reference",
        )
        empty_text = gettext_lazy("No lots here.")

    def __init__(self, *args: Any, totals: Totals, alike: bool, owners: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, exclude=() if owners else ("owner",), **kwargs)
        self.totals, self.alike = totals, alike

    def sum_text(self, pieces: int) -> str:
        """Nothing where sticks would be added to screws."""
        return format_count(pieces) if self.alike else ""

    def row_link(self, record: Any) -> str:
        return reverse("stock:lot", args=[record.pk])

    def render_worth(self, record: Lot) -> str:
        return format_coins(worth_of(record, organisation=self.organisation), self.organisation.currency)

    def render_material(self, record: Lot) -> str:
        return material_words(record.material, offcut=record.offcut)


class PlaceTable(FarmTable):
    name = tables.Column(gettext_lazy("Place"))
    site = tables.Column(gettext_lazy("Site"), default="None")
    lot_count = QuantityColumn(verbose_name=gettext_lazy("Lots"))

    class Meta:
        model = Place
        fields = ("name", "site", "lot_count")
        orderable = False
        empty_text = gettext_lazy("No places here.")

    def row_link(self, record: Any) -> str:
        return reverse("stock:place", args=[record.pk])
