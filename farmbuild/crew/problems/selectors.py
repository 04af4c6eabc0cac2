"""Reads of problems and their photos; no bytes of a photo but where they are asked for."""

from __future__ import annotations

from hashlib import sha256

from django.db.models import Prefetch, Q, QuerySet

from farmbuild.crew.models import Actual, ProblemPhoto, Task
from farmbuild.orgs.models import Organisation

OPEN = Q(settled__isnull=True)


def problems_of(*, organisation: Organisation) -> QuerySet[Actual]:
    """Recorded work with a problem at houses that are not archived, the newest first, with all that is told of it."""
    rows = Actual.objects.of(organisation).exclude(problem="")
    rows = rows.filter(task__house__archived_at=None, task__house__site__archived_at=None)
    return (
        rows.select_related("task__house__site", "person", "by", "settled__by")
        .prefetch_related(with_photos())
        .order_by("-pk")
    )


def open_problems_of(*, organisation: Organisation) -> QuerySet[Actual]:
    return problems_of(organisation=organisation).filter(OPEN)


def settled_problems_of(*, organisation: Organisation) -> QuerySet[Actual]:
    return problems_of(organisation=organisation).exclude(OPEN)


def with_photos(to: str = "photos") -> Prefetch:
    """For a queryset of what was recorded: its photos, and who added or took away one."""
    return Prefetch(to, ProblemPhoto.objects.select_related("added_by", "removed_by"))


def recorded_at(*, task: Task) -> QuerySet[Actual]:
    """All that was recorded at a task, the newest first."""
    rows = task.actuals.select_related("person", "by", "settled", "reversed_by__by").prefetch_related(with_photos())
    return rows.order_by("-pk")


def photos_of(*, organisation: Organisation) -> QuerySet[ProblemPhoto]:
    """Photos of ``problems_of``, also those taken away."""
    house = {"actual__task__house__archived_at": None, "actual__task__house__site__archived_at": None}
    rows = ProblemPhoto.objects.of(organisation).filter(**house)
    return rows.select_related("actual__task__house__site", "actual__by", "actual__person", "added_by", "removed_by")


class PhotoChanged(Exception):
    """The kept bytes do not give the kept checksum; the text says so."""


def bytes_of(*, photo: ProblemPhoto, small: bool) -> bytes:
    """JPEG bytes, read now. Raises PhotoChanged where the whole photo is not the one that was added."""
    name = "thumbnail" if small else "data"
    data = bytes(ProblemPhoto.objects.filter(pk=photo.pk).values_list(name, flat=True).get())
    if not small and sha256(data).hexdigest() != photo.sha256:
        raise PhotoChanged(
            "The kept photo is not the one that was added: its checksum is another. Take it from a backup."
        )
    return data
