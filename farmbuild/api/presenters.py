"""What the page of an address says of how it stands."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.api.models import Webhook
from farmbuild.common.templatetags.farm import day


def state_of(webhook: Webhook) -> str:
    """In a few words, for a list."""
    if webhook.ended_at:
        return gettext("ended %(day)s") % {"day": day(webhook.ended_at)}
    if webhook.stopped_at:
        return gettext("stopped %(day)s") % {"day": day(webhook.stopped_at)}
    return (
        gettext("nothing taken since %(day)s") % {"day": day(webhook.failing_since)}
        if webhook.failing_since
        else gettext("told")
    )


def standing(webhook: Webhook) -> dict[str, Any]:
    now = timezone.now()
    return {
        "state": _sentence(webhook),
        "tries_again": webhook.next_try_at and not webhook.stopped_at and not webhook.ended_at,
        "overlaps": webhook.before_until and webhook.before_until > now and not webhook.ended_at,
    }


def _sentence(webhook: Webhook) -> str:
    if webhook.ended_at:
        return gettext("Ended on %(day)s.") % {"day": day(webhook.ended_at)}
    if webhook.stopped_at:
        return gettext("Stopped on %(day)s. %(why_stopped)s") % {
            "day": day(webhook.stopped_at),
            "why_stopped": webhook.why_stopped,
        }
    if webhook.failing_since:
        return gettext("The last message was not taken. It is tried again by itself.")
    return gettext("This address is told of each change.")
