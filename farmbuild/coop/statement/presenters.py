"""What pages of accounts and statements show, gathered once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext, pgettext

from farmbuild.common.speaking import said_day
from farmbuild.coop.charges.bridge import ChargeLine
from farmbuild.coop.charges.proposals import stored_lines
from farmbuild.coop.charges.selectors import charge_of
from farmbuild.coop.joint.drawings import Bar, Bars, bars_drawn
from farmbuild.coop.models import MemberEntry, SentStatement
from farmbuild.coop.pipe.selectors import pieces_owed_on
from farmbuild.coop.statement.forms import DaysForm
from farmbuild.coop.statement.frozen import balance_words, days_of, frozen_statement, words_of
from farmbuild.coop.statement.selectors import DAY, Statement, balances_of, members_of, owed_both_ways, season_of
from farmbuild.crew.models import Member
from farmbuild.crew.people.words import days_words
from farmbuild.measure import format_count, format_money
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation


@dataclass(frozen=True)
class AccountRow:
    """A member over some days."""

    member: Member
    before: Decimal
    posted: Decimal
    after: Decimal


def days_shown(form: DaysForm, *, organisation: Organisation) -> tuple[date, date]:
    """The days that the address asks for, else up to today; from the beginning of the season of the last."""
    asked = form.cleaned_data if form.is_bound and form.is_valid() else {}
    last = asked.get("last") or today_of(organisation=organisation)
    first = asked.get("first") or season_of(organisation=organisation, day=last)[0]
    return first, max(first, last)


def accounts_page(*, organisation: Organisation, first: date, last: date) -> dict[str, Any]:
    """All members that have an entry up to ``last``, or owe or are owed pieces; what they owe and are owed then."""
    before = balances_of(organisation=organisation, day=first - DAY)
    after = balances_of(organisation=organisation, day=last)
    in_kind = pieces_owed_on(organisation=organisation, day=last)
    members = members_of(organisation=organisation).in_bulk({*after, *in_kind})
    rows = [
        _account_row(member, before.get(pk, Decimal(0)), after.get(pk, Decimal(0)))
        for pk, member in sorted(members.items(), key=lambda one: (one[1].name, one[0]))
    ]
    owe, owed = owed_both_ways(after)
    return {
        "rows": rows,
        "count": len(rows),
        "owe": owe,
        "owed": owed,
        "bars": _owing_bars(rows, organisation.currency),
        "first": first,
        "last": last,
    }


def _account_row(member: Member, before: Decimal, after: Decimal) -> AccountRow:
    return AccountRow(member, before, after - before, after)


def _owing_bars(rows: Sequence[AccountRow], currency: str) -> SafeString | str:
    """Who owes how much and whom the cooperative owes, the most first."""
    owe = sorted((row for row in rows if row.after > 0), key=lambda row: -row.after)
    owed = sorted((row for row in rows if row.after < 0), key=lambda row: row.after)
    groups = [
        Bars(gettext("Members owe"), [Bar(row.member.name, row.after) for row in owe]),
        Bars(gettext("Comes to members"), [Bar(row.member.name, -row.after) for row in owed]),
    ]
    return bars_drawn(groups, gettext("What members owe"), currency=currency)


@dataclass(frozen=True)
class ShownPart:
    title: str
    rows: Sequence[Mapping[str, Any]]
    amount: Decimal


def shown_page(shown: Mapping[str, Any]) -> dict[str, Any]:
    """What a statement shows, of days and amounts again."""
    first, last = days_of(shown)
    closing = Decimal(shown["closing"])
    parts = [
        ShownPart(
            gettext(part["title"]),
            [
                {
                    "day": date.fromisoformat(row["day"]),
                    "what": words_of(row),
                    "amount": Decimal(row["amount"]),
                    "entry": row["entry"],
                }
                for row in part["rows"]
            ],
            Decimal(part["amount"]),
        )
        for part in shown["parts"]
    ]
    return {
        "first": first,
        "last": last,
        "opening": Decimal(shown["opening"]),
        "parts": parts,
        "closing": closing,
        "closing_words": gettext(balance_words(closing)),
        "owed": abs(closing),
        "after": shown["after"],
        "bars": _made_of(parts, shown["currency"]),
        "pieces": _pieces_said(shown),
    }


def _pieces_said(shown: Mapping[str, Any]) -> list[tuple[str, str, int]]:
    """(To or by whom, what, pieces) in its order; statements of before have none."""
    to, by = gettext("Owed to %(who)s"), gettext("Owed by %(who)s")
    rows = shown.get("pieces", ())
    return [((to if row["owes"] else by) % {"who": row["other"]}, row["what"], row["count"]) for row in rows]


def statement_page(statement: Statement, *, organisation: Organisation) -> dict[str, Any]:
    """One that was not sent, as it would be."""
    return shown_page(frozen_statement(statement, organisation=organisation))


def sent_page(row: SentStatement) -> dict[str, Any]:
    return shown_page(row.shown)


def _made_of(parts: Sequence[ShownPart], currency: str) -> SafeString | str:
    """What was asked for, part by part."""
    asked = [Bar(part.title, part.amount) for part in parts if part.amount > 0]
    return bars_drawn([Bars(pgettext("money", "Asked for"), asked)], gettext("What was asked for"), currency=currency)


def entry_page(entry: MemberEntry) -> dict[str, Any]:
    """One line of an account; ``lines``: how a charge of a booking came about; ``counts``: it can be taken back."""
    currency = entry.organisation.currency
    charge = charge_of(entry=entry)
    other = entry.reverses or getattr(entry, "reversed_by", None)
    facts = [
        (gettext("Member"), entry.member.name),
        (gettext("Kind"), entry.get_kind_display()),
        (gettext("For"), entry.what),
        (gettext("Day"), said_day(entry.day)),
        (gettext("Amount"), format_money(entry.amount, currency)),
        (gettext("Posted by"), entry.by.display_name if entry.by else ""),
    ]
    kinds = MemberEntry.Kind
    return {
        "entry": entry,
        "amount": format_money(abs(entry.amount), currency),
        "facts": [(name, value) for name, value in facts if value],
        "lines": [_line_words(line, currency) for line in stored_lines(charge.lines)] if charge else [],
        "booking": charge.booking if charge else None,
        "other": other,
        "damage": getattr(entry, "damage", None),
        "counts": other is None and entry.kind in (kinds.DAYS, kinds.PULLS, kinds.LATE, kinds.PAID),
    }


def _line_words(line: ChargeLine, currency: str) -> str:
    free = gettext(", %(count)s free") % {"count": format_count(line.free)} if line.free else ""
    count = f"{format_count(line.count)}{free}"
    return gettext("%(days)s: %(count)s at %(price)s") % {
        "days": days_words(line.first, line.last),
        "count": count,
        "price": format_money(line.each, currency),
    }
