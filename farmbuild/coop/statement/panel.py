"""A member's account on its first page."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from farmbuild.coop.members.panels import Panel
from farmbuild.coop.statement.selectors import balance_of, has_entries, last_sent_of
from farmbuild.crew.models import Member


def facts(*, member: Member, today: date) -> Mapping[str, Any] | None:
    """What it owes today, and the last statement that went out; None without an entry."""
    if not has_entries(member=member):
        return None
    balance = balance_of(member=member, day=today)
    return {
        "lender": member.organisation,
        "balance": balance,
        "owed": abs(balance),
        "sent": last_sent_of(member=member),
    }


PANEL = Panel(order=30, template="coop/statement/panel.html", facts=facts, costs=True)
