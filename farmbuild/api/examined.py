"""What the command ``doctor`` looks at of other programs: tokens that ended in use, addresses that cannot be told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from django.db.models import F
from django.utils import timezone

from farmbuild.api.models import Token, Webhook
from farmbuild.api.webhooks.hosts import NotAllowed, place_of
from farmbuild.api.webhooks.selectors import why_token_tells_nothing
from farmbuild.common.doctor.examining import Found
from farmbuild.measure import count_noun

#: A token that was used until so shortly before its end has a program that is shut out since; told for so long.
IN_USE, TOLD_FOR = timedelta(days=2), timedelta(days=14)


def examine_programs(sender: Any, **more: Any) -> list[Found]:
    now = timezone.now()
    tokens = Token.objects.filter(ended_at=None)
    open_tokens = tokens.filter(ends_at__gt=now).count()
    over = tokens.filter(ends_at__range=(now - TOLD_FOR, now), used_at__gte=F("ends_at") - IN_USE)
    faults = [
        f"The token of {token.name} ({token.organisation}) was in use and is over since {token.ends_at:%Y-%m-%d}."
        for token in over.select_related("organisation").order_by("pk")
    ]
    webhooks = Webhook.objects.select_related("organisation", "token__user", "token__organisation")
    rows = [*webhooks.filter(ended_at=None).order_by("pk")]
    broken = [f"{row.url} ({row.organisation}): {why}" for row in rows for why in _faults(row)]
    return [
        Found("Other programs", f"{count_noun(open_tokens, 'token')} in use", tuple(faults)),
        Found("Webhooks", f"{count_noun(len(rows), 'address', 'addresses')} told of changes", tuple(broken)),
    ]


def _faults(row: Webhook) -> Iterator[str]:
    try:
        place_of(row.url)
    except NotAllowed as error:
        yield str(error)
    if row.stopped_at:
        yield f"Stopped: {row.why_stopped}"
    else:
        if row.failing_since:
            yield f"Nothing was taken since {row.failing_since:%Y-%m-%d %H:%M}; tried {count_noun(row.tries, 'time')}."
        if why := why_token_tells_nothing(row.token):
            yield why
