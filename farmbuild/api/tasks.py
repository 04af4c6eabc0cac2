"""Work that may run in a process of its own."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django_tasks import task

from farmbuild.api.models import Webhook
from farmbuild.api.webhooks import sending
from farmbuild.api.webhooks.selectors import due

State = Webhook.State


@task()
def work_on_webhook(webhook_id: int) -> None:
    sending.work_on_webhook(webhook_id)
    # What was changed while it ended, or did not fit into one go.
    wake_one(webhook_id)


def wake(rows: QuerySet[Webhook]) -> None:
    """Hand those of these rows for which something is due to a worker; of several that ask at once, one does."""
    free = Q(state=State.READY) | Q(state=State.FAILED)
    for pk in [*due(rows).values_list("pk", flat=True)]:
        with transaction.atomic():
            if Webhook.objects.filter(free, pk=pk).update(state=State.WAITING, begun=0, heard_from_at=timezone.now()):
                work_on_webhook.enqueue(pk)


def wake_one(webhook_id: int) -> None:
    wake(Webhook.objects.filter(pk=webhook_id))


def wake_those_of(organisations: Iterable[int]) -> None:
    wake(Webhook.objects.filter(organisation__in=[*organisations]))


def wake_all() -> None:
    """What waits for its next try, and what nobody was woken for."""
    wake(Webhook.objects.all())
