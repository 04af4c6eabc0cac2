"""What a person would look for in an export, as sheets (CSV): names instead of keys, numbers with a point."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import IO, Any

from django.apps import apps
from django.utils import timezone

from farmbuild.moving.ownership import rows_of
from farmbuild.workbooks.plain_text import cell_text

_AT_ONCE = 500


@dataclass(frozen=True)
class Sheet:
    """``columns``: heading to the lookup of its values."""

    name: str
    label: str
    columns: dict[str, str]


SHEETS = (
    Sheet(
        "houses",
        "sites.House",
        {"House": "name", "Site": "site__name", "Wanted by": "need_date", "Span (mm)": "post_span",
         "Length (mm)": "length", "Recipe": "recipe__name", "Archived": "archived_at"},
    ),
    Sheet(
        "stock",
        "stock.Lot",
        {"Lot": "reference", "Material": "material__name", "Code": "material__code", "Length (mm)": "length",
         "Offcut": "offcut", "Place": "place__name", "Site": "place__site__name", "Pieces": "on_hand",
         "Held": "reserved", "Cost of one": "unit_cost", "Worth": "value", "Owner": "owner__name",
         "Supplier": "supplier__name", "Received": "received_on"},
    ),
    Sheet(
        "ledger",
        "stock.Movement",
        {"When": "at", "Lot": "lot__reference", "Material": "lot__material__name", "Movement": "kind",
         "Pieces": "quantity", "Amount": "amount", "House": "house__name", "Member": "member__name",
         "Reason": "reason", "Paper": "paper", "By": "by__username"},
    ),
    Sheet(
        "offers",
        "catalogue.PriceBreak",
        {"Supplier": "offer__supplier__name", "Material": "offer__material__name", "Length (mm)": "offer__length",
         "Pieces in a pack": "offer__pack", "From pieces": "from_quantity", "Price of one": "unit_price",
         "Lead days": "offer__lead_days", "Holds until": "offer__valid_until"},
    ),
    Sheet(
        "orders",
        "buying.PurchaseOrderLine",
        {"Order": "order__number", "Supplier": "order__supplier__name", "State": "order__state",
         "Sent": "order__sent_on", "Line": "position", "What": "description", "Length (mm)": "length",
         "Ordered": "quantity", "Arrived": "arrived", "Damaged": "damaged", "Price of one": "unit_price",
         "Amount": "line_total", "Tax": "tax", "Currency": "order__currency"},
    ),
    Sheet(
        "invoices",
        "buying.Invoice",
        {"Invoice": "number", "Supplier": "supplier__name", "Order": "order__number", "Day": "invoiced_on",
         "Goods": "goods", "Delivery": "delivery", "Tax": "tax", "Total": "total", "Currency": "currency",
         "Reversed": "reversed_at"},
    ),
    Sheet(
        "work",
        "crew.Actual",
        {"Day": "day", "House": "task__house__name", "Step": "task__kind", "Person": "person__name",
         "Crew": "crew__name", "From": "started_at", "To": "stopped_at", "Minutes": "minutes", "People": "people",
         "Done": "done", "Problem": "problem", "Takes back": "reverses"},
    ),
    Sheet(
        "paid-time",
        "costs.PaidTime",
        {"Day": "day", "Person": "person__name", "House": "house__name", "Job": "job__name", "Minutes": "minutes",
         "Rate": "rate", "Amount": "amount", "Takes back": "reverses"},
    ),
    Sheet(
        "bookings",
        "crew.BenderBooking",
        {"Bender": "bender__name", "Member": "member__name", "From": "first", "To": "last", "State": "state",
         "Went out": "out_at", "Came back": "back_at", "Pulls": "pulls"},
    ),
    Sheet(
        "accounts-of-members",
        "coop.MemberEntry",
        {"Day": "day", "Member": "member__name", "Kind": "kind", "What": "what", "Amount": "amount",
         "Takes back": "reverses"},
    ),
    Sheet(
        "bills",
        "quotes.Bill",
        {"Bill": "number", "Job": "job__name", "Customer": "job__customer__name", "Day": "day", "Due on": "due_on",
         "Billed": "billed", "Kept back": "kept", "Tax": "tax", "Due": "due", "Currency": "currency"},
    ),
)  # fmt: skip


def write_sheet(sheet: Sheet, organisation: int, out: IO[str]) -> None:
    writer = csv.writer(out)
    writer.writerow(sheet.columns)
    rows = rows_of(apps.get_model(sheet.label), organisation).values_list(*sheet.columns.values())
    writer.writerows(_cells(row) for row in rows.iterator(chunk_size=_AT_ONCE))


def _cells(row: tuple[Any, ...]) -> Iterator[str]:
    for value in row:
        if isinstance(value, Decimal):
            yield f"{value:f}"
        elif isinstance(value, datetime):
            yield f"{timezone.localtime(value):%Y-%m-%d %H:%M}"
        else:
            yield cell_text(value)
