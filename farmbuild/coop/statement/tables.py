"""Tables of accounts and statements."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn
from farmbuild.coop.models import SentStatement


class AccountTable(FarmTable):
    """Rows are ``presenters.AccountRow``; above 0 the member owes it."""

    phone = (("member", "after"), ("before", "posted"))
    phone_words = {"after": ""}

    member = tables.Column(_("Member"), accessor="member__name")
    before = MoneyColumn(verbose_name=_("Before"), total=True)
    posted = MoneyColumn(verbose_name=_("Posted"), total=True)
    after = MoneyColumn(verbose_name=_("Owes"), total=True)

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("coop:account", args=[record.member.slug])


class LineTable(FarmTable):
    """Lines of a part of a statement; each leads to its entry."""

    # What it is for has the whole width: its end tells equal bookings apart.
    phone = (("day", "amount"), ("what",))
    phone_words = {"amount": "", "day": ""}

    what = tables.Column(_("For"))
    day = DayColumn(verbose_name=_("Day"))
    amount = MoneyColumn(verbose_name=_("Amount"), total=True)

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str | None:
        return reverse("coop:entry", args=[record["entry"]])


class OwnLineTable(LineTable):
    """As the member sees them."""

    def row_link(self, record: Any) -> str | None:
        return None


class SentTable(FarmTable):
    phone = (("number", "closing"), ("last", "first"))
    phone_words = {"closing": "", "last": _("to"), "first": _("from")}

    number = tables.Column(_("Statement"), accessor="reference", order_by="number")
    first = DayColumn(verbose_name=_("From"))
    last = DayColumn(verbose_name=_("To"))
    closing = MoneyColumn(verbose_name=_("Owed then"))

    class Meta:
        orderable = False

    def row_link(self, record: SentStatement) -> str:
        return reverse("coop:statement", args=[record.number])


class OwnSentTable(SentTable):
    """As the member sees them: each row gives its PDF."""

    def row_link(self, record: SentStatement) -> str:
        return reverse("coop:seen-statement-pdf", args=[record.organisation.slug, record.number])
