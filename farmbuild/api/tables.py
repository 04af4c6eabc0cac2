from __future__ import annotations

from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.api.models import Attempt, Token, Webhook
from farmbuild.api.presenters import state_of
from farmbuild.api.scopes import scope_words
from farmbuild.common.tables import DayColumn, FarmTable
from farmbuild.common.templatetags.farm import day, moment


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
        if record.ended_at:
            return f"ended {day(record.ended_at)}"
        return f"over since {day(record.ends_at)}" if record.is_over else f"until {day(record.ends_at)}"


class WebhookTable(FarmTable):
    phone = (("host",), ("state",))

    host = tables.Column("Address", accessor="url", order_by="url")
    token = tables.Column("Program", accessor="token__name", default="none")
    state = tables.Column("State", accessor="pk", orderable=False)
    last_words = tables.Column("Last answer", default="", orderable=False)

    class Meta:
        model = Webhook
        fields = ("host", "token", "state", "last_words")
        empty_text = "No address is told."

    def row_link(self, record: Any) -> str:
        return reverse("api:webhook", args=[record.pk])

    def render_host(self, value: str) -> str:
        return value.removeprefix("https://")

    def render_state(self, record: Webhook) -> str:
        return state_of(record)


class AttemptTable(FarmTable):
    phone = (("words",), ("at", "what"))

    at = tables.Column("When")
    what = tables.Column("Message", accessor="mark", empty_values=())
    words = tables.Column("Answer", orderable=False)

    class Meta:
        model = Attempt
        fields = ("at", "what", "words")

    def render_at(self, value: datetime) -> str:
        return moment(value)

    def render_what(self, record: Attempt) -> str:
        if record.mark is None:
            return "trial"
        return f"change {record.mark}" + (f", try {record.number}" if record.number > 1 else "")
