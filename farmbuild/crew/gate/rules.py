"""What the gate keeps from being recorded."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.utils.translation import gettext

from farmbuild.common.speaking import said_list
from farmbuild.crew.gate.selectors import GATED, closed_gates, gates_of
from farmbuild.crew.models import Actual, Kind, Task
from farmbuild.hoops.batches.models import BentHoops, HoopBatch
from farmbuild.orgs.models import Organisation


def check_press(*, organisation: Organisation, task: Task, finishes: bool) -> None:
    """Whether work at ``task`` may be recorded. Raises ValidationError with what to do instead.

    The trial may be worked at, and is done by the acceptance of its hoop alone; the bend may not be begun before.
    """
    if task.kind not in GATED or (task.kind == Kind.TRIAL and not finishes):
        return
    if gate := closed_gates(organisation=organisation, tasks=[task]).get(task.pk):
        if gate.is_open:
            raise ValidationError(
                gettext("Press Done at the task Trial hoop of this house first; its hoop is accepted.")
            )
        trial = task.kind == Kind.TRIAL
        first = gettext("This task is done when the hoop is accepted.") if trial else gettext("The bend waits for it.")
        then = gettext("%(what)s on the page of hoops.") % {"what": gate.label}
        raise ValidationError(f"{gate.words} {first} {then}")


def check_taken_back(*, organisation: Organisation, task: Task, actual: Actual) -> None:
    """Whether what was pressed may be taken back. Raises ValidationError where hoops rest on it.

    The acceptance of a trial hoop stays, and what was bent after the bend was begun needs its presses.
    """
    if task.kind == Kind.TRIAL and actual.finished:
        gate = gates_of(organisation=organisation, houses=[task.house])[task.house_id]
        if gate.is_open:
            numbers = said_list(str(batch) for batch in gate.batches)
            words = gettext("The trial hoop of %(batches)s is accepted, so this task stays done.")
            raise ValidationError(words % {"batches": numbers})
    if task.kind == Kind.BEND:
        rows = BentHoops.objects.filter(batch__shares__house=task.house, at__gte=actual.recorded_at)
        left = rows.order_by("batch").values("batch").annotate(left=Sum("hoops")).filter(left__gt=0)
        if batch := HoopBatch.objects.filter(pk__in=left.values("batch")).order_by("number").first():
            words = gettext("Hoops of %(batch)s were recorded as bent after it. Correct the batch first.")
            raise ValidationError(words % {"batch": batch})
