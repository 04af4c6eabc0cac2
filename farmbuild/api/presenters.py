"""What the page of an address says of how it stands."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from farmbuild.api.models import Webhook
from farmbuild.common.templatetags.farm import day


def state_of(webhook: Webhook) -> str:
    """In a few words, for a list."""
    if webhook.ended_at:
        return f"ended {day(webhook.ended_at)}"
    if webhook.stopped_at:
        return f"stopped {day(webhook.stopped_at)}"
    return f"nothing taken since {day(webhook.failing_since)}" if webhook.failing_since else "told"


def standing(webhook: Webhook) -> dict[str, Any]:
    now = timezone.now()
    return {
        "state": _sentence(webhook),
        "tries_again": webhook.next_try_at and not webhook.stopped_at and not webhook.ended_at,
        "overlaps": webhook.before_until and webhook.before_until > now and not webhook.ended_at,
    }


def _sentence(webhook: Webhook) -> str:
    if webhook.ended_at:
        return f"Ended on {day(webhook.ended_at)}."
    if webhook.stopped_at:
        return f"Stopped on {day(webhook.stopped_at)}. {webhook.why_stopped}"
    if webhook.failing_since:
        return "The last message was not taken. It is tried again by itself."
    return "This address is told of each change."
