"""Work that may run in a process of its own."""

from django_tasks import task

from farmbuild.stock import import_work
from farmbuild.stock.models import ImportDraft


@task()
def work_on_import(draft_id: int) -> None:
    import_work.work_on_import(draft_id)


def start_import(*, draft: ImportDraft) -> None:
    """Hand the file to a worker: a thread of this process, or by the database another process."""
    work_on_import.enqueue(draft.pk)
