"""A statement as plain values that JSON has: all that its page, PDF and workbook show."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import MemberEntry
from farmbuild.coop.statement.selectors import Statement
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation

#: Version of the form of what is frozen.
FORM = 1


def frozen_statement(statement: Statement, *, organisation: Organisation, number: str = "") -> dict[str, Any]:
    """Amounts as text, days as 2027-05-12. Without ``number`` it was not sent."""
    sender = [organisation.name, *organisation.address.splitlines(), organisation.contact]
    return {
        "form": FORM,
        "number": number,
        "sender": [text.strip() for text in sender if text.strip()],
        "to": [text for text in (statement.member.name, statement.member.contact) if text],
        "first": statement.first.isoformat(),
        "last": statement.last.isoformat(),
        "currency": organisation.currency,
        "units": organisation.unit_system,
        "after": statement.after.reference if statement.after else "",
        "opening": str(statement.opening),
        "parts": [
            {
                "title": part.title,
                "rows": [_row(entry, statement) for entry in part.entries],
                "amount": str(part.amount),
            }
            for part in statement.parts
        ],
        "closing": str(statement.closing),
        "pieces": [
            {
                "owes": row.owes,
                "other": row.other.name,
                "what": item_words(row.material, row.length, organisation),
                "count": row.count,
            }
            for row in statement.pieces
        ],
    }


def pieces_of(shown: Mapping[str, Any]) -> list[tuple[str, str, int]]:
    """(To or by whom, what, pieces) in its order; statements of before have none."""
    return [
        (f"Owed {'to' if row['owes'] else 'by'} {row['other']}", row["what"], row["count"])
        for row in shown.get("pieces", ())
    ]


def _row(entry: MemberEntry, statement: Statement) -> dict[str, Any]:
    return {
        "day": entry.day.isoformat(),
        "what": said_of(entry),
        "amount": str(entry.amount),
        "earlier": entry.day < statement.first,
        "entry": entry.pk,
    }


def said_of(entry: MemberEntry) -> str:
    """What an entry is, and why it takes another back."""
    return f"Taken back: {entry.what} ({entry.reason})" if entry.reverses_id else entry.what


def balance_words(closing: Decimal) -> str:
    """How the last line of a statement is called."""
    if closing > 0:
        return gettext_noop("To pay")
    return gettext_noop("Comes to you") if closing < 0 else gettext_noop("Nothing is owed")


def title_of(shown: Mapping[str, Any]) -> str:
    return f"Statement {shown['number']}" if shown["number"] else "Account, not sent"


def days_of(shown: Mapping[str, Any]) -> tuple[date, date]:
    return date.fromisoformat(shown["first"]), date.fromisoformat(shown["last"])


def words_of(row: Mapping[str, Any]) -> str:
    """A line of a statement."""
    return f"{row['what']} (of an earlier day, posted since)" if row["earlier"] else row["what"]
