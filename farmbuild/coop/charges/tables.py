"""Tables of charges. A cell of money is left out for whoever sees no costs, and so are the pages."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn
from farmbuild.coop.models import MemberEntry


class ProposedTable(FarmTable):
    """Rows are ``proposals.ProposedCharge``."""

    phone = (("member", "amount"), ("what",))
    phone_words = {"amount": ""}

    member = tables.Column(gettext_lazy("Member"), accessor="booking__member__name")
    what = tables.Column(gettext_lazy("For"))
    amount = MoneyColumn(verbose_name=gettext_lazy("Amount"), total=True)

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("coop:booking", args=[record.booking.pk])


class EntryTable(FarmTable):
    """Rows of members' accounts."""

    phone = (("member", "amount"), ("day", "what"))
    phone_words = {"day": "", "amount": ""}

    member = tables.Column(gettext_lazy("Member"), accessor="member__name")
    day = DayColumn(verbose_name=gettext_lazy("Day"))
    what = tables.Column(gettext_lazy("For"), orderable=False)
    amount = MoneyColumn(verbose_name=gettext_lazy("Amount"))
    state = tables.Column(gettext_lazy("State"), accessor="pk", orderable=False)

    class Meta:
        sequence = ("member", "day", "what", "amount", "state")

    def row_link(self, record: MemberEntry) -> str:
        return reverse("coop:entry", args=[record.pk])

    def render_state(self, record: MemberEntry) -> str:
        return state_of(record)


def state_of(entry: MemberEntry) -> str:
    """``entry`` comes with what took it back."""
    if entry.reverses_id:
        return gettext("takes back")
    return gettext("taken back") if hasattr(entry, "reversed_by") else gettext("counts")


class RateTable(FarmTable):
    """Rows are ``presenters.RateRow``."""

    what = tables.Column(gettext_lazy("For"))
    whose = tables.Column(gettext_lazy("Bender"))
    since = DayColumn(verbose_name=gettext_lazy("From this day on"))
    price = MoneyColumn(verbose_name=gettext_lazy("Price"))

    class Meta:
        orderable = False
