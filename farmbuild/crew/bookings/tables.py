"""Tables of bookings, requests and members."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.bookings.words import who
from farmbuild.crew.models import BenderBooking, BenderRequest, Member


class BookingTable(FarmTable):
    phone = (("bender", "state"), ("last", "who"))
    phone_words = {"last": _("until")}

    bender = tables.Column(_("Bender"), order_by=("bender__name", "first"))
    who = tables.Column(_("For"), accessor="pk", order_by=("member__name", "first"))
    first = DayColumn(_("From"))
    last = DayColumn(_("To, included"))
    state = tables.Column(_("State"))

    class Meta:
        model = BenderBooking
        fields = ("bender", "who", "first", "last", "state")

    def row_link(self, record: Any) -> str:
        return reverse("crew:booking", args=[record.pk])

    def render_who(self, record: BenderBooking) -> str:
        return who(record)


class RequestTable(FarmTable):
    phone = (("member", "state"), ("need_by", "what"))
    phone_words = {"need_by": _("Back by")}

    member = tables.Column(_("Member"), order_by=("member__name", "need_by"))
    what = tables.Column(_("Bender"), accessor="pk", orderable=False)
    days = QuantityColumn(verbose_name=_("Days"))
    earliest = DayColumn(_("From, at the earliest"))
    need_by = DayColumn(_("Back by, at the latest"))
    state = tables.Column(_("State"))

    class Meta:
        model = BenderRequest
        fields = ("member", "what", "days", "earliest", "need_by", "state")

    def row_link(self, record: Any) -> str:
        return reverse("crew:request", args=[record.pk])

    def render_what(self, record: BenderRequest) -> str:
        return what(record)


class MemberTable(FarmTable):
    phone = (("name", "open_bookings"), ("open_requests", "contact"))

    name = tables.Column(_("Member"))
    contact = tables.Column(_("Contact"), default=_("not known"), orderable=False)
    share = QuantityColumn(verbose_name=_("Shares"))
    open_requests = QuantityColumn(verbose_name=_("Open requests"))
    open_bookings = QuantityColumn(verbose_name=_("Booked or out"))

    class Meta:
        model = Member
        fields = ("name", "contact", "share", "open_requests", "open_bookings")

    def row_link(self, record: Any) -> str:
        return reverse("crew:member", args=[record.slug])


class MemberDaysTable(FarmTable):
    """Of the members that ask (rows of a proposal)."""

    phone = (("member", "after"), ("before", "given"))
    phone_words = {"before": _("so far"), "after": _("with this")}

    member = tables.Column(_("Member"), accessor="member__name")
    share = QuantityColumn(verbose_name=_("Shares"), accessor="member__share")
    season = QuantityColumn(verbose_name=_("Days this season"), accessor="had__days")
    last_season = QuantityColumn(verbose_name=_("Last season"), accessor="had__last_season")
    before = tables.Column(_("So far"))
    asked = QuantityColumn(verbose_name=_("Days asked for"), accessor="days__asked")
    given = QuantityColumn(verbose_name=_("Days given"), accessor="days__given")
    after = tables.Column(_("With this"))

    class Meta(FarmTable.Meta):
        fields = ("member", "share", "season", "last_season", "before", "asked", "given", "after")

    def row_link(self, record: Any) -> str:
        return reverse("crew:member", args=[record.member.slug])


def what(record: BenderRequest) -> str:
    """Which bender is asked for."""
    if record.bender:
        return record.bender.name
    return gettext("any that bends %(tube)s") % {"tube": record.tube.name} if record.tube else gettext("any")
