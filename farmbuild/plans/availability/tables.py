"""Tables of what runs short when, and of what changes on which day."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said_count
from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn, QuantityColumn
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_count, format_signed
from farmbuild.plans.availability.bridge import Cause, Step
from farmbuild.plans.availability.covers import Cover
from farmbuild.plans.availability.selectors import Thing
from farmbuild.plans.models import Plan

CAUSES = {
    Cause.ON_HAND: gettext_lazy("On hand"),
    Cause.INCOMING: gettext_lazy("Comes"),
    Cause.RESERVED: gettext_lazy("Held"),
    Cause.DEMAND: gettext_lazy("Needed, not ordered"),
}


def _query(*, thing: Thing, plan: Plan | None) -> str:
    parts = {} if thing.length is None else {"length": str(thing.length)}
    return urlencode(parts | ({"plan": plan.number} if plan else {}))


def _cover(cover: Cover) -> tuple[str, str, str, str]:
    words = gettext("order %(order)s") if cover.sent else gettext("draft %(order)s")
    on = gettext("comes %(day)s") if cover.sent else gettext("send by %(day)s")
    return cover.url, words % {"order": cover.order}, cover.supplier, on % {"day": day(cover.day)}


class ThingTable(FarmTable):
    phone = (("material", "on_hand"), ("length", "short_on", "order_by"))
    phone_words = {"length": "", "short_on": gettext_lazy("Short on")}

    def row_link(self, record: Thing) -> str:
        query, code = _query(thing=record, plan=self.plan), record.material.code
        if (address := self._addresses.get(code)) is None:
            address = self._addresses[code] = reverse("stock:availability-of", args=[code])
        return f"{address}?{query}" if query else address

    material = tables.Column(gettext_lazy("Material"))
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"))
    on_hand = QuantityColumn(verbose_name=gettext_lazy("On hand"))
    held = QuantityColumn(verbose_name=gettext_lazy("Held"))
    incoming = QuantityColumn(verbose_name=gettext_lazy("On order"))
    demand = QuantityColumn(verbose_name=gettext_lazy("Needed, not ordered"))
    short_on = DayColumn(
        accessor="outlook__short_on", verbose_name=gettext_lazy("Runs short on"), default=gettext_lazy("never")
    )
    most_short = QuantityColumn(accessor="outlook__most_short", verbose_name=gettext_lazy("Short at most"))
    covers = tables.Column(gettext_lazy("Covered by"), default="–")
    order_by = tables.Column(gettext_lazy("Order by"), accessor="outlook__order_by", default="–")

    class Meta:
        orderable = False
        empty_text = gettext_lazy("No materials yet.")

    def __init__(self, *args: Any, plan: Plan | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plan = plan
        self._addresses: dict[str, str] = {}

    def render_covers(self, value: tuple[Cover, ...]) -> SafeString:
        return format_html_join("; ", '<a href="{}">{}</a>, {}, {}', map(_cover, value)) or SafeString("–")

    def render_order_by(self, record: Thing) -> str:
        last = record.outlook.order_by
        if record.covers and not record.to_order:
            return gettext("ordered or drafted")
        words = {"day": day(last.day), "supplier": last.supplier, "days": said_count(last.days_late, "day")}
        if not last.days_late:
            return f"{words['day']}, {words['supplier']}"
        return gettext("%(day)s, %(days)s ago, %(supplier)s") % words


class StepTable(FarmTable):
    phone = (("when", "balance"), ("quantity", "what", "note"))
    phone_words = {"balance": gettext_lazy("Then"), "when": "", "quantity": ""}

    when = DayColumn(accessor="day", verbose_name=gettext_lazy("Day"))
    what = tables.Column(gettext_lazy("What"), accessor="change__cause")
    note = tables.Column(gettext_lazy("For whom, or from where"), accessor="change__note", default="")
    quantity = QuantityColumn(accessor="change__signed", verbose_name=gettext_lazy("Change"))
    balance = QuantityColumn(verbose_name=gettext_lazy("There after it"))

    class Meta:
        orderable = False

    def render_what(self, value: Cause) -> str:
        return CAUSES[value]

    def render_quantity(self, record: Step) -> str:
        change = record.change
        return format_count(change.quantity) if change.cause is Cause.ON_HAND else format_signed(change.signed)

    def render_balance(self, value: int) -> str:
        return gettext("%(missing)s short") % {"missing": format_count(-value)} if value < 0 else format_count(value)

    def render_note(self, record: Step) -> str:
        change = record.change
        if not record.late:
            return change.note
        return gettext("%(note)s (was due %(day)s)") % {"note": change.note, "day": day(change.day)}


class OffcutTable(FarmTable):
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"))
    pieces = QuantityColumn(verbose_name=gettext_lazy("On hand"))
    taken = QuantityColumn(verbose_name=gettext_lazy("Held"))

    class Meta:
        orderable = False
