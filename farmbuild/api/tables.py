from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.api.models import Token
from farmbuild.api.scopes import scope_words
from farmbuild.common.tables import DayColumn, FarmTable


class TokenTable(FarmTable):
    phone = (("name", "used_at"), ("user", "state"))
    phone_words = {"used_at": "used"}

    name = tables.Column("Program")
    user = tables.Column("As", accessor="user__display_name", order_by=("user__first_name", "user__username"))
    scopes = tables.Column("May", orderable=False)
    used_at = DayColumn(verbose_name="Last use", default="never")
    state = tables.Column("Lasts", accessor="ends_at")

    class Meta:
        model = Token
        fields = ("name", "user", "scopes", "used_at", "state")
        empty_text = "No program is let in."

    def row_link(self, record: Any) -> str:
        return reverse("api:token", args=[record.pk])

    def render_scopes(self, value: list[str]) -> str:
        words = scope_words(value)
        return words[:1].upper() + words[1:]

    def render_state(self, record: Token) -> str:
        from farmbuild.common.templatetags.farm import day

        if record.ended_at:
            return f"ended {day(record.ended_at)}"
        return f"over since {day(record.ends_at)}" if record.is_over else f"until {day(record.ends_at)}"
