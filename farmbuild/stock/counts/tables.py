"""Tables of counts, of their places, of differences and of entries."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.money import format_coins
from farmbuild.common.tables import FIGURE, FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from farmbuild.common.templatetags.farm import moment
from farmbuild.measure import format_count
from farmbuild.orgs.models import User
from farmbuild.stock.ledger_tables import signed, who
from farmbuild.stock.models import CountEntry, CountLine, StockCount
from farmbuild.stock.words import material_words


def _when_and_who(at: datetime | None, user: User | None) -> str:
    return gettext("%(when)s by %(who)s") % {"when": moment(at), "who": who(user)}


class CountTable(FarmTable):
    phone = (("number", "counted_count"), ("state", "line_count", "started_at"))

    number = tables.Column(gettext_lazy("Count"))
    state = tables.Column(gettext_lazy("State"))
    line_count = QuantityColumn(verbose_name=gettext_lazy("Lots"))
    counted_count = QuantityColumn(verbose_name=gettext_lazy("Counted"))
    started_at = tables.Column(gettext_lazy("Started"))
    ended_at = tables.Column(gettext_lazy("Ended"), default="")

    class Meta:
        model = StockCount
        fields = ("number", "state", "line_count", "counted_count", "started_at", "ended_at")
        orderable = False
        empty_text = gettext_lazy("No counts here.")

    def row_link(self, record: Any) -> str:
        return reverse("stock:count", args=[record.number])

    def render_number(self, record: StockCount) -> str:
        return str(record)

    def render_started_at(self, record: StockCount) -> str:
        return _when_and_who(record.started_at, record.started_by)

    def render_ended_at(self, record: StockCount) -> str:
        return _when_and_who(record.ended_at, record.ended_by)


class CountPlaceTable(FarmTable):
    phone = (("place", "counted_count"), ("line_count", "again_count", "site"))
    phone_quiet = ("again_count",)

    place = tables.Column(gettext_lazy("Place"))
    site = tables.Column(gettext_lazy("Site"), accessor="place__site", default="")
    line_count = QuantityColumn(verbose_name=gettext_lazy("Lots"))
    counted_count = QuantityColumn(verbose_name=gettext_lazy("Counted"))
    again_count = QuantityColumn(verbose_name=gettext_lazy("To count again"))

    class Meta:
        fields = ("place", "site", "line_count", "counted_count", "again_count")
        orderable = False
        empty_text = gettext_lazy("No places here.")

    def row_link(self, record: Any) -> str:
        return reverse("stock:count-place", args=[record.count.number, record.place.pk])


class DifferenceTable(FarmTable):
    """``sums`` stand in the foot over every difference, not the page alone."""

    phone = (("material", "difference"), ("lot", "value", "place"))
    phone_words = {"difference": ""}

    lot = tables.Column(gettext_lazy("Lot"))
    material = tables.Column(gettext_lazy("Material"), accessor="lot__material")
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"), accessor="lot__length", default="")
    place = tables.Column(gettext_lazy("Place"))
    counted = QuantityColumn(verbose_name=gettext_lazy("Counted"))
    difference = tables.Column(gettext_lazy("Difference"), attrs=FIGURE)
    value = MoneyColumn(verbose_name=gettext_lazy("Value"), footer=lambda table: table.money(table.sums_of_lots))

    class Meta:
        model = CountLine
        fields = ("lot", "material", "length", "place", "counted", "difference", "value")
        orderable = False
        empty_text = gettext_lazy("No differences.")

    def __init__(self, *args: Any, sums_of_lots: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sums_of_lots = sums_of_lots

    def row_link(self, record: Any) -> str:
        return reverse("stock:count-line", args=[record.count.number, record.pk])

    def money(self, amount: Any) -> str:
        text = format_coins(amount, self.organisation.currency)
        return text.replace("-", "−") if amount < 0 else f"+{text}"

    def render_material(self, record: CountLine) -> str:
        return material_words(record.lot.material, offcut=record.lot.offcut)

    def render_difference(self, value: int) -> str:
        return signed(value)

    def render_counted(self, record: CountLine) -> str:
        times = f" (time {record.times})" if record.times > 1 else ""
        again = " – to be counted again" if record.again else ""
        return format_html("{}{}{}", format_count(record.counted), times, again)

    def render_value(self, value: Any) -> str:
        return self.money(value)


class EntryTable(FarmTable):
    """Every time that a lot was counted, newest first."""

    phone = (("counted_at", "counted"), ("expected", "by", "source", "at"))
    phone_words = {"at": gettext_lazy("entered")}

    counted_at = tables.Column(gettext_lazy("Counted at"))
    counted = QuantityColumn(verbose_name=gettext_lazy("Counted"))
    expected = QuantityColumn(verbose_name=gettext_lazy("Stock record then"))
    by = tables.Column(gettext_lazy("Who"), default="")
    source = tables.Column(gettext_lazy("How"))
    at = tables.Column(gettext_lazy("Entered at"))

    class Meta:
        model = CountEntry
        fields = ("counted_at", "counted", "expected", "by", "source", "at")
        orderable = False
        empty_text = gettext_lazy("Not counted yet.")

    def render_counted_at(self, value: Any) -> str:
        return moment(value)

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_by(self, value: Any) -> str:
        return who(value)
