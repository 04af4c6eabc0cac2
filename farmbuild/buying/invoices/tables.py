"""Tables of invoices, their lines and what they changed."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.invoices.differences import short_words
from farmbuild.buying.models import CostAdjustment, Invoice, InvoiceLine
from farmbuild.buying.tables import PriceColumn
from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.common.templatetags.farm import day


class InvoiceTable(FarmTable):
    phone = (("supplier", "total"), ("number", "differs", "invoiced_on"))
    phone_words = {"total": "", "number": gettext_lazy("Invoice")}

    number = tables.Column(gettext_lazy("Invoice"), orderable=False)
    supplier = tables.Column(accessor="supplier__name", verbose_name=gettext_lazy("Supplier"), orderable=False)
    order = tables.Column(gettext_lazy("Order"), accessor="order__number", orderable=False)
    invoiced_on = DayColumn(verbose_name=gettext_lazy("Date"), orderable=False)
    differs = tables.Column(gettext_lazy("Differs in"), orderable=False, empty_values=())
    state = tables.Column(gettext_lazy("Note"), orderable=False, empty_values=())
    tax = MoneyColumn(verbose_name=gettext_lazy("Tax"), orderable=False)
    total = MoneyColumn(verbose_name=gettext_lazy("Total"), orderable=False)

    class Meta(FarmTable.Meta):
        model = Invoice
        fields: tuple[str, ...] = ()
        empty_text = gettext_lazy("No invoices.")

    def row_link(self, record: Any) -> str:
        return record.get_absolute_url()

    def render_differs(self, record: Invoice) -> str:
        return short_words(record) or "—"

    def render_state(self, record: Invoice) -> str:
        notes = (
            [gettext("Credit note of invoice %(number)s") % {"number": record.credits.number}] if record.credits else []
        )
        check = getattr(record, "check_made", None)
        if record.reversed_at:
            notes.append(
                gettext("Reversed on %(day)s: %(reverse_reason)s")
                % {"day": day(record.reversed_at), "reverse_reason": record.reverse_reason}
            )
        elif check:
            notes.append(gettext("Looked at: %(words)s") % {"words": check.words})
        return ". ".join(notes)


class InvoiceLineTable(FarmTable):
    phone = (("order_line__description", "line_total"), ("quantity", "unit_price", "landed"))
    phone_words = {"line_total": ""}

    order_line__description = tables.Column(gettext_lazy("Item"), orderable=False)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Pieces billed"), orderable=False)
    unit_price = PriceColumn(verbose_name=gettext_lazy("Price of one"), orderable=False)
    line_total = MoneyColumn(verbose_name=gettext_lazy("Line total"), orderable=False)
    landed = MoneyColumn(verbose_name=gettext_lazy("Landed cost"), orderable=False)

    class Meta(FarmTable.Meta):
        model = InvoiceLine
        fields: tuple[str, ...] = ()


class AdjustmentTable(FarmTable):
    phone = (("item", "amount"), ("at", "reason"))
    phone_words = {"amount": ""}

    at = DayColumn(verbose_name=gettext_lazy("Booked on"), orderable=False)
    item = tables.Column(gettext_lazy("Item"), accessor="receipt_line__order_line__description", orderable=False)
    lot = tables.Column(gettext_lazy("Lot"), accessor="receipt_line__lot__reference", orderable=False)
    amount = MoneyColumn(verbose_name=gettext_lazy("Change of cost"), orderable=False)
    expense = MoneyColumn(verbose_name=gettext_lazy("General expense"), orderable=False)
    reason = tables.Column(gettext_lazy("Why"), orderable=False)

    class Meta(FarmTable.Meta):
        model = CostAdjustment
        fields: tuple[str, ...] = ()

    def row_link(self, record: Any) -> str | None:
        return None
