"""The task of bending is as far as the batches of its house are, whichever was made first.

Where a house has a batch, the batch counts the hoops; at the task, Start and Stop keep the hours alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext, ngettext

from farmbuild.crew.models import Kind, Task
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import HouseHoops, hoops_for, last_bent_at


def batches_at(tasks: Iterable[Task]) -> dict[int, HouseHoops]:
    """By the key of the task, for tasks of bending whose hoops a batch counts; one query."""
    bends = {task.pk: task.house_id for task in tasks if task.kind == Kind.BEND}
    found = hoops_for(houses=set(bends.values())) if bends else {}
    return {pk: found[house] for pk, house in bends.items() if house in found}


def bent_until(tasks: Iterable[Task]) -> dict[int, datetime]:
    """By the key of the task, for tasks of bending that are done: when the last hoops were recorded; one query."""
    bends = {task.pk: task.house_id for task in tasks if task.kind == Kind.BEND and task.state == Task.State.DONE}
    found = last_bent_at(houses=set(bends.values())) if bends else {}
    return {pk: found[house] for pk, house in bends.items() if house in found}


def batch_hoops(task: Task) -> HouseHoops | None:
    return batches_at([task]).get(task.pk)


def bend_tasks_of(*, batch: HoopBatch) -> QuerySet[Task]:
    """Tasks of bending of the houses of the batch, with their house."""
    rows = Task.objects.of(batch.organisation).filter(kind=Kind.BEND, house__hoop_shares__batch=batch)
    return rows.select_related("house").order_by("house__slug")


def progress(task: Task, hoops: HouseHoops, *, worked: bool, finished: bool) -> tuple[int, str]:
    """Units done and state. ``worked``: something was pressed at the task; ``finished``: Done was.

    It is done with its last hoop, or with its last batch where these were to make all its hoops; where they were not,
    somebody presses Done.
    """
    done = min(task.count, hoops.pulls_bent)
    # A hoop may take fewer pulls than when the task was counted.
    ended = hoops.unfinished is None and (finished or hoops.all_hoops or hoops.pulls_wanted >= task.count)
    if done >= task.count or ended:
        return done, Task.State.DONE
    return done, Task.State.STARTED if worked or done else Task.State.OPEN


def check_bend_press(hoops: HouseHoops, *, finishes: bool) -> None:
    """Raises ValidationError where the task is done by its batch and not by a press."""
    if finishes and (batch := hoops.unfinished):
        words = gettext(
            "This task is done when %(batch)s is done. Record its hoops on the page of %(batch)s; press Stop here."
        )
        raise ValidationError(words % {"batch": batch})


def counted_words(hoops: HouseHoops) -> str:
    """Where the hoops are counted."""
    names = [str(batch) for batch in hoops.batches]
    words = ngettext(
        "Hoops are counted on the page of %(batches)s; Start and Stop here count hours alone.",
        "Hoops are counted on the pages of %(batches)s; Start and Stop here count hours alone.",
        len(names),
    )
    return words % {"batches": ", ".join(names)}
