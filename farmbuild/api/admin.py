"""Other programs for whoever runs the server, to look at: who is let in, who is told, and how that goes."""

from __future__ import annotations

from django.contrib import admin

from farmbuild.api.models import Attempt, Token, Webhook
from farmbuild.common.admin import OwnedAdmin, ReadOnlyAdmin


@admin.register(Token)
class TokenAdmin(OwnedAdmin):
    columns = ("name", "user", "ends_at", "ended_at", "used_at")
    joins = ("user",)
    exclude = ("digest",)


@admin.register(Webhook)
class WebhookAdmin(OwnedAdmin):
    columns = ("url", "token", "state", "mark", "failing_since", "stopped_at", "ended_at")
    joins = ("token",)
    # What secrets are made of is shown to nobody.
    exclude = ("nonce", "nonce_before", "worker")


@admin.register(Attempt)
class AttemptAdmin(ReadOnlyAdmin):
    list_display = ("at", "webhook", "mark", "number", "status", "words")
    list_select_related = ("webhook",)
