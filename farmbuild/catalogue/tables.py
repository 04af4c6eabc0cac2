"""Tables of materials, suppliers and offers."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.catalogue.words import prices_in_words, size_in_words, thickness_in_words
from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn, MoneyColumn, QuantityColumn


class SizeColumn(LengthColumn):
    """Sizes that may be finer than lengths are shown; each carries its unit."""

    def unit_of(self, table: FarmTable) -> str:
        return ""

    def shown(self, value: Decimal, table: FarmTable) -> str:
        return size_in_words(value, table.organisation)


def offer_address(supplier: str, asked: str) -> str:
    """Of the form for a new offer of that supplier, by its code; ``asked``: what it is filled in with."""
    return f"{reverse('catalogue:offer-new', args=[supplier])}?{asked}"


def wanted_address(material: str, *, length: Decimal | None = None, back: str) -> str:
    """Where an offer of that material, by its code, is added; it leads back to the page ``back``."""
    asked = {"back": back} | ({"length": str(length)} if length else {})
    return f"{reverse('catalogue:offer-wanted', args=[material])}?{urlencode(asked)}"


class MaterialTable(FarmTable):
    phone = (("name",), ("code", "kind", "thickness"))
    phone_words = {"thickness": ""}

    name = tables.Column(gettext_lazy("Material"))
    code = tables.Column(gettext_lazy("Short name"))
    kind = tables.Column(gettext_lazy("Kind"))
    width = SizeColumn(verbose_name=gettext_lazy("Width or diameter"))
    thickness = SizeColumn(verbose_name=gettext_lazy("Thickness or wall"))

    class Meta:
        model = Material
        fields = ("name", "code", "kind", "width", "thickness")
        empty_text = gettext_lazy("No materials here.")

    def render_thickness(self, record: Material) -> str:
        return thickness_in_words(record)

    def row_link(self, record: Any) -> str:
        return reverse("catalogue:material-sizes", args=[record.code])


class SupplierTable(FarmTable):
    """``asked``: what a new offer is wanted for, as addresses have it; a row then opens its form."""

    phone = (("name", "offer_count"), ("free_delivery_from", "minimum_order", "contact"))

    name = tables.Column(gettext_lazy("Supplier"))
    contact = tables.Column(gettext_lazy("Contact"), orderable=False)
    offer_count = QuantityColumn(verbose_name=gettext_lazy("Offers"))
    delivery_charge = MoneyColumn(verbose_name=gettext_lazy("Delivery"))
    free_delivery_from = MoneyColumn(verbose_name=gettext_lazy("Free from"), default=gettext_lazy("never"))
    minimum_order = MoneyColumn(verbose_name=gettext_lazy("Least order"))

    class Meta:
        model = Supplier
        fields = ("name", "contact", "offer_count", "delivery_charge", "free_delivery_from", "minimum_order")
        empty_text = gettext_lazy("No suppliers here.")

    def __init__(self, *args: Any, asked: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked = asked

    def row_link(self, record: Any) -> str:
        return (
            offer_address(record.code, self.asked) if self.asked else reverse("catalogue:supplier", args=[record.code])
        )


class OfferTable(FarmTable):
    phone = (("material", "prices"), ("length", "lead_days", "pack"))
    phone_words = {"prices": "", "length": ""}

    material = tables.Column(gettext_lazy("Material"), order_by=("material__name", "length", "pk"))
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"), orderable=False)
    pack = QuantityColumn(verbose_name=gettext_lazy("Pack"), unit=gettext_lazy("pieces"), orderable=False)
    prices = MoneyColumn(verbose_name=gettext_lazy("Price of one"), accessor="pk", orderable=False)
    lead_days = QuantityColumn(
        verbose_name=gettext_lazy("Comes after"), unit=gettext_lazy("days"), default=gettext_lazy("not known")
    )
    valid_until = DayColumn(gettext_lazy("Valid until"), default=gettext_lazy("open"))
    supplier_code = tables.Column(gettext_lazy("Item number"), orderable=False)

    class Meta:
        model = Offer
        fields = ("material", "length", "pack", "prices", "lead_days", "valid_until", "supplier_code")
        empty_text = gettext_lazy("No offers from this supplier yet.")

    def row_link(self, record: Any) -> str:
        return reverse("catalogue:offer", args=[record.supplier.code, record.pk])

    def render_prices(self, record: Offer) -> Any:
        return prices_in_words(record, self.organisation.currency)
