"""A bill as it goes out: plain values that JSON has, and the PDF and workbook made of them alone."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typst
from django.utils.translation import gettext

from farmbuild.common.speaking import said
from farmbuild.measure import UnitSystem, format_day, format_decimal, format_money
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.agreed.bridge import Amounts
from farmbuild.quotes.bridge import PART_NAMES, Kind
from farmbuild.quotes.models import Bill, Customer
from farmbuild.workbooks.words import money_format, money_look
from farmbuild.workbooks.writing import LABEL, NOTE, PLAIN, TITLE, WRAPPED, Book, Column, Formula, Look

if TYPE_CHECKING:
    from farmbuild.quotes.bills.selectors import Billing

#: Version of the form of what is frozen.
FORM = 1
_LAYOUT = Path(__file__).with_name("bill.typ")
_HEADS = 8


def frozen_bill(
    *,
    organisation: Organisation,
    bill: Bill,
    amounts: Amounts,
    billing: Billing,
    percent: Decimal | None,
    changes: Sequence[int],
) -> dict[str, Any]:
    """All that it shows; amounts and percents as text, days as 2027-05-12."""
    return {
        "form": FORM,
        "number": bill.reference,
        "title": f"{'Credit' if bill.reverses_id else 'Bill'} {bill.reference}",
        "sender": [text for text in (organisation.name, *_lines(organisation.address), organisation.contact) if text],
        "to": _addressed(billing.job.customer),
        "job": str(billing.job),
        "what": bill.what,
        "reason": bill.reason,
        "day": bill.day.isoformat(),
        "due_on": bill.due_on.isoformat(),
        "currency": bill.currency,
        "units": organisation.unit_system,
        "tax_name": organisation.tax_name or "Tax",
        "percent": "" if percent is None else str(percent),
        "changes": list(changes),
        "parts": [
            {
                "kind": str(part.kind),
                "name": PART_NAMES[Kind(part.kind)],
                "percent": str(part.percent),
                "amount": str(part.amount),
                "tax": str(part.tax),
            }
            for part in amounts.parts
        ],
        "billed": str(amounts.billed),
        "kept": str(amounts.kept),
        "tax": str(amounts.tax),
        "due": str(amounts.due),
        "contract": str(billing.contract.before_tax),
        "billed_before": str(billing.billed),
        "open_after": str(billing.open - amounts.billed),
        "kept_after": str(billing.kept + amounts.kept),
    }


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _addressed(customer: Customer) -> list[str]:
    return [text for text in (customer.name, customer.contact, *_lines(customer.address)) if text]


def sums_of(shown: dict[str, Any]) -> list[tuple[str, Decimal]]:
    """What stands under the parts of a bill, and its amount; what is nothing is left out."""
    kept = Decimal(shown["kept"])
    kept_until = gettext("Kept back until the end") if kept > 0 else gettext("Kept back until now")
    rows = [
        (gettext("Before tax"), Decimal(shown["billed"])),
        (kept_until, -kept),
        (said(shown["tax_name"]), Decimal(shown["tax"])),
    ]
    due = Decimal(shown["due"])
    return [row for row in rows if row[1]] + [
        (gettext("To be paid") if due >= 0 else gettext("Comes back to you"), abs(due))
    ]


def stands_of(shown: dict[str, Any]) -> list[tuple[str, Decimal]]:
    """Where the whole contract stands after the bill, before tax."""
    return [
        (gettext("Contract"), Decimal(shown["contract"])),
        (gettext("Billed before"), Decimal(shown["billed_before"])),
        (gettext("This one"), Decimal(shown["billed"])),
        (gettext("Left to bill"), Decimal(shown["open_after"])),
        (gettext("Kept back in all"), Decimal(shown["kept_after"])),
    ]


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def bill_pdf(shown: dict[str, Any]) -> bytes:
    """The same bytes for the same bill. What is typed by people goes in as data, never as layout."""

    def money(text: Any) -> str:
        return format_money(Decimal(text), shown["currency"])

    data = {
        "title": shown["title"],
        "letter": UnitSystem(shown["units"]) == UnitSystem.IMPERIAL,
        "sender": shown["sender"],
        "to": shown["to"],
        "facts": _facts(shown),
        "what": shown["what"],
        "reason": shown["reason"],
        "tax_name": shown["tax_name"],
        "parts": [
            [part["name"], money(part["amount"]), _percent(part["percent"]), money(part["tax"])]
            for part in shown["parts"]
        ],
        "sums": [[words, money(amount)] for words, amount in sums_of(shown)],
        "stands": [[words, money(amount)] for words, amount in stands_of(shown)],
    }
    # The fonts of the wheel only, and no clock: the same bytes on every machine.
    return typst.compile(_layout(), format="pdf", sys_inputs={"bill": json.dumps(data)}, ignore_system_fonts=True)


def _percent(text: str) -> str:
    return f"{format_decimal(Decimal(text).normalize())} %"


def _facts(shown: dict[str, Any]) -> list[list[str]]:
    facts = [["Job", shown["job"]], ["Day", format_day(date.fromisoformat(shown["day"]))]]
    if Decimal(shown["due"]) > 0:
        facts.append(["To be paid by", format_day(date.fromisoformat(shown["due_on"]))])
    if shown["percent"]:
        facts.append(["Of the contract", _percent(shown["percent"])])
    return facts


def bill_workbook(shown: dict[str, Any]) -> bytes:
    """One sheet; sums are formulas that give the amounts of the bill."""
    currency = shown["currency"]
    book = Book(
        title=shown["title"],
        author=shown["sender"][0],
        stamp=date.fromisoformat(shown["day"]),
        units=UnitSystem(shown["units"]),
    )
    columns = [
        Column("What", 44, WRAPPED),
        Column(f"Before tax, {currency}", 16, money_look(currency)),
        Column(f"{shown['tax_name']}, %", 10, Look(number="#,##0.00###", align="right", line=True)),
        Column(f"{shown['tax_name']}, {currency}", 16, money_look(currency)),
    ]
    sheet = book.sheet("Bill", columns, freeze=_HEADS, foot=shown["title"])
    sheet.row([shown["title"]], TITLE, height=24)
    sheet.row([", ".join(shown["sender"])], NOTE)
    sheet.join(1, 4)
    sheet.row([f"To {', '.join(shown['to'])}"], NOTE)
    sheet.join(1, 4)
    sheet.row([shown["what"]], Look(bold=True, wrap=True))
    sheet.join(1, 4)
    facts = ". ".join(f"{name}: {words}" for name, words in _facts(shown))
    sheet.row([facts], NOTE)
    sheet.join(1, 4)
    sheet.row([shown["reason"] or None], NOTE)
    sheet.join(1, 4)
    sheet.blank()
    first = sheet.headings() + 1
    for part in shown["parts"]:
        sheet.row([part["name"], Decimal(part["amount"]), Decimal(part["percent"]), Decimal(part["tax"])])
    last = max(sheet.rows, first)
    total = Look(number=money_format(currency), align="right", total=True)
    label = Look(total=True)
    billed, tax = Decimal(shown["billed"]), Decimal(shown["tax"])
    sums = sheet.row(
        ["In all", Formula(f"SUM(B{first}:B{last})", billed), None, Formula(f"SUM(D{first}:D{last})", tax)]
        if shown["parts"]
        else ["In all", billed, None, tax],
        [label, total, label, total],
    )
    kept = sheet.row(["Kept back", Decimal(shown["kept"])], [PLAIN, money_look(currency)])
    sheet.row(["To be paid", Formula(f"B{sums}-B{kept}+D{sums}", Decimal(shown["due"]))], [label, total])
    sheet.blank()
    for words, amount in stands_of(shown):
        sheet.row(
            [f"{words}, before tax", amount], [LABEL, Look(number=money_format(currency), align="right", grey=True)]
        )
    sheet.finish()
    return book.to_bytes()
