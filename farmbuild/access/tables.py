"""Tables of people and invitations."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.access.models import Invitation
from farmbuild.access.people import differences
from farmbuild.common.money import format_amount
from farmbuild.common.tables import DayColumn, FarmTable
from farmbuild.orgs.models import Membership


class PeopleTable(FarmTable):
    phone = (("name",), ("role", "differs"))

    name = tables.Column(
        gettext_lazy("Person"), accessor="user__display_name", order_by=("user__first_name", "user__username")
    )
    role = tables.Column(gettext_lazy("Role"))
    differs = tables.Column(gettext_lazy("Changed"), accessor="pk", orderable=False)
    send_limit = tables.Column(gettext_lazy("Limit of sending"), default=gettext_lazy("none"))
    last = DayColumn(
        verbose_name=gettext_lazy("Last sign-in"), accessor="user__last_login", default=gettext_lazy("never")
    )

    class Meta:
        model = Membership
        fields = ("name", "role", "differs", "send_limit", "last")

    def row_link(self, record: Any) -> str:
        return reverse("access:person", args=[record.pk])

    def render_differs(self, record: Membership) -> str:
        return differences(record) or gettext("as the role")

    def render_send_limit(self, value: Any) -> str:
        return f"{format_amount(value, self.organisation.currency)} {self.organisation.currency}"


class InvitationTable(FarmTable):
    phone = (("name",), ("role", "ends_at"))
    phone_words = {"ends_at": gettext_lazy("until")}

    name = tables.Column(gettext_lazy("Invited"))
    role = tables.Column(gettext_lazy("Role"))
    ends_at = DayColumn(verbose_name=gettext_lazy("Lasts until"))
    made_by = tables.Column(gettext_lazy("By"), accessor="made_by__display_name", orderable=False)

    class Meta:
        model = Invitation
        fields = ("name", "role", "ends_at", "made_by")

    def row_link(self, record: Any) -> str:
        return reverse("access:invitation", args=[record.pk])

    def render_role(self, value: str) -> str:
        return Membership.Role(value).label
