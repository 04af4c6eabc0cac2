"""Tables of members and cooperatives."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import FarmTable
from farmbuild.coop.members.words import signing_words


class FarmsOfMembersTable(FarmTable):
    phone = (("name",), ("farm", "signs"))
    phone_words = {"farm": gettext_lazy("Farm:"), "signs": gettext_lazy("Signs in:")}

    name = tables.Column(gettext_lazy("Member"), orderable=False)
    farm = tables.Column(gettext_lazy("Farm here"), default=gettext_lazy("none"), orderable=False)
    signs = tables.Column(gettext_lazy("Who signs in"), accessor="signing_in", empty_values=(), orderable=False)

    def row_link(self, record: Any) -> str:
        return reverse("coop:member", args=[record.slug])

    def render_signs(self, record: Any) -> str:
        return signing_words(record)


class CooperativeTable(FarmTable):
    phone = (("organisation",), ("member",))

    organisation = tables.Column(gettext_lazy("Cooperative"), orderable=False)
    member = tables.Column(gettext_lazy("You are there"), orderable=False)

    def row_link(self, record: Any) -> str:
        return reverse("coop:seen", args=[record.organisation.slug])
