"""What the gate keeps from being recorded."""

from __future__ import annotations

from django.core.exceptions import ValidationError

from farmbuild.crew.gate.selectors import GATED, closed_gates
from farmbuild.crew.models import Kind, Task
from farmbuild.orgs.models import Organisation


def check_press(*, organisation: Organisation, task: Task, finishes: bool) -> None:
    """Whether work at ``task`` may be recorded. Raises ValidationError with what to do instead.

    The trial may be worked at, and is done by the acceptance of its hoop alone; the bend may not be begun before.
    """
    if task.kind not in GATED or (task.kind == Kind.TRIAL and not finishes):
        return
    if gate := closed_gates(organisation=organisation, tasks=[task]).get(task.pk):
        if gate.is_open:
            raise ValidationError("Press Done at the task Trial hoop of this house first; its hoop is accepted.")
        first = "This task is done when the hoop is accepted." if task.kind == Kind.TRIAL else "The bend waits for it."
        raise ValidationError(f"{gate.words} {first} {gate.label} on the page of hoops.")
