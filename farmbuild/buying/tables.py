"""Tables of orders and their lines."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.bridge import why_more_of
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Receipt, ReceiptLine
from farmbuild.buying.outdated import CONCERNED
from farmbuild.common.speaking import said
from farmbuild.common.tables import FIGURE, DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_count, format_decimal

#: Nothing can be fetched from a sheet of paper, and a tablet has the room for dates.
AT_A_DESK = {"td": {"class": "screen-only wide-only"}, "th": {"class": "screen-only wide-only"}}


class OrderTable(FarmTable):
    # The file is on the page of the order, which the whole row opens: a glove would miss a link inside of it.
    phone = (("supplier", "total"), ("number", "state", "order_by"))
    phone_words = {"total": ""}
    phone_quiet = ("late",)

    number = tables.Column(gettext_lazy("Order"))
    supplier = tables.Column(accessor="supplier__name", verbose_name=gettext_lazy("Supplier"))
    state = tables.Column(gettext_lazy("State"))
    order_by = DayColumn(verbose_name=gettext_lazy("Order by"))
    need_by = DayColumn(verbose_name=gettext_lazy("First needed by"))
    plan = tables.Column(gettext_lazy("Plan"), accessor="plan__name", order_by="plan__number", empty_values=())
    line_count = QuantityColumn(verbose_name=gettext_lazy("Lines"))
    late = tables.Column(gettext_lazy("In time"))
    total = MoneyColumn(verbose_name=gettext_lazy("Total"))
    file = tables.Column(gettext_lazy("Spreadsheet"), accessor="number", orderable=False, attrs=AT_A_DESK)

    class Meta(FarmTable.Meta):
        model = PurchaseOrder
        fields: tuple[str, ...] = ()
        empty_text = gettext_lazy("Nothing to order.")

    def __init__(self, *args: Any, outdated: Collection[int] = (), **kwargs: Any) -> None:
        """``outdated``: keys of plans that are out of date."""
        super().__init__(*args, **kwargs)
        self.outdated = outdated

    def row_link(self, record: Any) -> str:
        return reverse("buying:order", args=[record.number])

    #: By the key of a plan, how far it is.
    phases: Mapping[int, str] = {}

    def render_plan(self, record: PurchaseOrder) -> str:
        """With how far it is, and whether the order is another than the plan's."""
        if record.plan is None:
            return record.origin
        phase = self.phases.get(record.plan_id, "").lower()
        name = f"{record.plan.name}: {phase}" if phase else record.plan.name
        return f"{name}, {record.origin}" if record.origin else name

    def render_late(self, value: bool) -> str:
        return render_to_string("buying/late.html", {"late": value})

    def render_file(self, record: PurchaseOrder) -> str:
        """A draft that was cancelled has none."""
        if record.state == PurchaseOrder.State.CANCELLED and record.sent_on is None:
            return ""
        return format_html(
            '<a href="{}" aria-label="{}">{}</a>',
            reverse("buying:workbook", args=[record.number]),
            gettext("Spreadsheet of order %(number)s") % {"number": record.number},
            gettext("Download"),
        )

    def render_state(self, record: PurchaseOrder) -> str:
        """A draft whose houses a plan accepted later has is looked at before it is sent."""
        if record.overtaken and record.state == PurchaseOrder.State.DRAFT:
            return render_to_string("buying/overtaken.html")
        if record.plan_id in self.outdated and record.state in CONCERNED:
            return render_to_string("buying/outdated_state.html", {"order": record})
        if record.waits_for_second:
            return gettext("Draft, waits for a second person since %(day)s") % {"day": day(record.asked_at)}
        return record.get_state_display()


class PriceColumn(MoneyColumn):
    def shown(self, value: Any, table: FarmTable) -> str:
        """Prices keep up to four places, because many are a fraction of a coin."""
        exact = -int(value.normalize().as_tuple().exponent)
        return format_decimal(value, min(max(exact, 2), 4))


class OrderLineTable(FarmTable):
    phone = (("description", "quantity"), ("need_by", "to_come", "answered"))
    phone_words = {"answered": gettext_lazy("promised")}
    phone_quiet = ("to_come", "good", "late_days")

    description = tables.Column(gettext_lazy("Item"), orderable=False)
    supplier_code = tables.Column(gettext_lazy("Supplier's number"), orderable=False)
    packs = tables.Column(gettext_lazy("Packs"), orderable=False, attrs=FIGURE)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Pieces"), orderable=False)
    need_by = DayColumn(verbose_name=gettext_lazy("Needed by"), orderable=False)
    deliver_to = tables.Column(gettext_lazy("Deliver to"), orderable=False)
    late_days = tables.Column(gettext_lazy("In time"), orderable=False)
    good = QuantityColumn(verbose_name=gettext_lazy("Came whole"), orderable=False)
    to_come = QuantityColumn(verbose_name=gettext_lazy("Still on order"), orderable=False)
    answered = tables.Column(gettext_lazy("Promised"), accessor="promised_on", orderable=False, empty_values=())
    unit_price = PriceColumn(verbose_name=gettext_lazy("Price of one"), orderable=False)
    line_total = MoneyColumn(verbose_name=gettext_lazy("Line total"), orderable=False, total=True)

    class Meta(FarmTable.Meta):
        model = PurchaseOrderLine
        fields: tuple[str, ...] = ()

    def row_link(self, record: PurchaseOrderLine) -> str | None:
        """A draft's lines can be edited."""
        draft = record.order.state == PurchaseOrder.State.DRAFT
        return reverse("buying:line", args=[record.order.number, record.pk]) if draft else None

    def render_packs(self, value: int, record: PurchaseOrderLine) -> str:
        return (
            gettext("%(value)s of %(pack)s") % {"value": format_count(value), "pack": format_count(record.pack)}
            if record.pack > 1
            else gettext("single")
        )

    def render_quantity(self, value: int, record: PurchaseOrderLine) -> str:
        now = record.confirmed_quantity
        return (
            format_count(value)
            if now is None or now == value
            else gettext("%(value)s, confirmed %(now)s") % {"value": format_count(value), "now": format_count(now)}
        )

    def render_description(self, value: str, record: PurchaseOrderLine) -> str:
        more = said(why_more_of(record))
        return format_html("{}<br><small>{}.</small>", value, more) if more else value

    def render_answered(self, record: PurchaseOrderLine) -> str:
        return ": ".join(filter(None, (day(record.promised_on), record.remark))) or "—"

    def render_unit_price(self, value: Decimal, record: PurchaseOrderLine, bound_column: Any) -> str:
        ordered, now = (bound_column.column.shown(price, self) for price in (value, record.price_now))
        return (
            ordered if ordered == now else gettext("%(ordered)s, confirmed %(now)s") % {"ordered": ordered, "now": now}
        )

    def render_to_come(self, value: int, record: PurchaseOrderLine) -> str:
        return (
            gettext("rest cancelled: %(closed_reason)s") % {"closed_reason": record.closed_reason}
            if record.closed_at
            else format_count(value)
        )

    def render_late_days(self, value: int) -> str:
        return render_to_string("buying/late.html", {"late": value, "days": value})


class ReceiptTable(FarmTable):
    phone = (("number", "came"), ("received_on", "broken", "paper"))
    phone_words = {"number": gettext_lazy("Receipt")}
    phone_quiet = ("broken",)

    number = tables.Column(gettext_lazy("Receipt"), orderable=False)
    received_on = DayColumn(verbose_name=gettext_lazy("Came on"), orderable=False)
    paper = tables.Column(gettext_lazy("Delivery note"), orderable=False)
    came = QuantityColumn(verbose_name=gettext_lazy("Pieces"), orderable=False)
    broken = QuantityColumn(verbose_name=gettext_lazy("Damaged"), orderable=False)
    note = tables.Column(gettext_lazy("Note"), orderable=False, empty_values=())

    class Meta(FarmTable.Meta):
        model = Receipt
        fields: tuple[str, ...] = ()

    def row_link(self, record: Any) -> str:
        return reverse("buying:receipt", args=[record.order.number, record.number])

    def render_note(self, record: Receipt) -> str:
        if record.reverses:
            return gettext("Reverses receipt %(number)s: %(reason)s") % {
                "number": record.reverses.number,
                "reason": record.reason,
            }
        undone = getattr(record, "reversed_by", None)
        return gettext("Reversed by receipt %(number)s") % {"number": undone.number} if undone else ""


class ReceiptLineTable(FarmTable):
    phone = (("order_line__description", "arrived"), ("place", "damaged", "unit_price"))
    phone_quiet = ("damaged",)

    order_line__description = tables.Column(gettext_lazy("Item"), orderable=False)
    arrived = QuantityColumn(verbose_name=gettext_lazy("Came"), orderable=False)
    damaged = QuantityColumn(verbose_name=gettext_lazy("Damaged"), orderable=False)
    damage_reason = tables.Column(gettext_lazy("What is damaged"), orderable=False)
    unit_price = PriceColumn(verbose_name=gettext_lazy("Price of one"), orderable=False)
    amount = MoneyColumn(verbose_name=gettext_lazy("Landed cost"), orderable=False)
    lot = tables.Column(gettext_lazy("Lot"), orderable=False)
    place = tables.Column(gettext_lazy("Where it lies"), orderable=False)

    class Meta(FarmTable.Meta):
        model = ReceiptLine
        fields: tuple[str, ...] = ()

    def row_link(self, record: Any) -> str | None:
        return reverse("stock:lot", args=[record.lot_id]) if record.lot_id else None
