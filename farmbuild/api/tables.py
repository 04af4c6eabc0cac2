from __future__ import annotations

from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy, pgettext_lazy

from farmbuild.api.models import Attempt, Token, Webhook
from farmbuild.api.presenters import state_of
from farmbuild.api.scopes import scope_words
from farmbuild.common.tables import DayColumn, FarmTable
from farmbuild.common.templatetags.farm import day, moment


class TokenTable(FarmTable):
    phone = (("name", "used_at"), ("user", "state"))
    phone_words = {"used_at": gettext_lazy("used")}

    name = tables.Column(gettext_lazy("Program"))
    user = tables.Column(
        gettext_lazy("As"), accessor="user__display_name", order_by=("user__first_name", "user__username")
    )
    scopes = tables.Column(pgettext_lazy("allowed to", "May"), orderable=False)
    used_at = DayColumn(verbose_name=gettext_lazy("Last use"), default=gettext_lazy("never"))
    state = tables.Column(gettext_lazy("Lasts"), accessor="ends_at")

    class Meta:
        model = Token
        fields = ("name", "user", "scopes", "used_at", "state")
        empty_text = gettext_lazy("No program is let in.")

    def row_link(self, record: Any) -> str:
        return reverse("api:token", args=[record.pk])

    def render_scopes(self, value: list[str]) -> str:
        words = scope_words(value)
        return words[:1].upper() + words[1:]

    def render_state(self, record: Token) -> str:
        if record.ended_at:
            return gettext("ended %(day)s") % {"day": day(record.ended_at)}
        return (
            gettext("over since %(day)s") % {"day": day(record.ends_at)}
            if record.is_over
            else gettext("until %(day)s") % {"day": day(record.ends_at)}
        )


class WebhookTable(FarmTable):
    phone = (("host",), ("state",))

    host = tables.Column(gettext_lazy("Address"), accessor="url", order_by="url")
    token = tables.Column(gettext_lazy("Program"), accessor="token__name", default="none")
    state = tables.Column(gettext_lazy("State"), accessor="pk", orderable=False)
    last_words = tables.Column(gettext_lazy("Last answer"), default="", orderable=False)

    class Meta:
        model = Webhook
        fields = ("host", "token", "state", "last_words")
        empty_text = gettext_lazy("No address is told.")

    def row_link(self, record: Any) -> str:
        return reverse("api:webhook", args=[record.pk])

    def render_host(self, value: str) -> str:
        return value.removeprefix("https://")

    def render_state(self, record: Webhook) -> str:
        return state_of(record)


class AttemptTable(FarmTable):
    phone = (("words",), ("at", "what"))

    at = tables.Column(gettext_lazy("When"))
    what = tables.Column(gettext_lazy("Message"), accessor="mark", empty_values=())
    words = tables.Column(gettext_lazy("Answer"), orderable=False)

    class Meta:
        model = Attempt
        fields = ("at", "what", "words")

    def render_at(self, value: datetime) -> str:
        return moment(value)

    def render_what(self, record: Attempt) -> str:
        if record.mark is None:
            return gettext("trial")
        return gettext("change %(mark)s") % {"mark": record.mark} + (
            gettext(", try %(number)s") % {"number": record.number} if record.number > 1 else ""
        )
