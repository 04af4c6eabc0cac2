"""Who does not belong to an organisation any more leaves no program behind; what is changed is told."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any

from django.conf import settings
from django.db import transaction
from django.dispatch import receiver

from farmbuild.access.signals import taken_out
from farmbuild.api.tasks import wake_those_of
from farmbuild.api.tokens import end_tokens_of
from farmbuild.history.signals import written
from farmbuild.orgs.models import Organisation, User


@receiver(taken_out)
def end_their_tokens(organisation: Organisation, user: User, **_: Any) -> None:
    end_tokens_of(organisation=organisation, user=user)


@receiver(written)
def wake_their_webhooks(organisations: Iterable[int], **_: Any) -> None:
    """Once it is stored. Where no host is allowed it costs nothing."""
    if settings.WEBHOOK_HOSTS:
        transaction.on_commit(partial(wake_those_of, [*organisations]), robust=True)
