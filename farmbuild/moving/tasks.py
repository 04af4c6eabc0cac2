"""Work that may run in a process of its own."""

from functools import partial

from django.db import transaction
from django_tasks import task

from farmbuild.moving import services
from farmbuild.moving.models import Export


@task()
def work_on_export(export_id: int) -> None:
    services.work_on_export(export_id)


def start_once_stored(*, export: Export) -> None:
    """Hand it to a worker: a thread of this process, or by the database another process."""
    transaction.on_commit(partial(work_on_export.enqueue, export.pk))
