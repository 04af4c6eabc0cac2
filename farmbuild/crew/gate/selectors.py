"""Reads of the gate: whether the hoops of a house may be bent."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.compiled import compiled_once
from farmbuild.crew.models import Kind, Task
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import batches_for
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

#: Work that the gate is about: the trial itself, and what waits for it.
GATED = frozenset({Kind.TRIAL, Kind.BEND})


@dataclass(frozen=True)
class Gate:
    """``batches`` make hoops for the house, by number; it is open when the trial hoop of each is accepted."""

    house: House
    batches: tuple[HoopBatch, ...]

    @property
    def waiting(self) -> HoopBatch | None:
        """The first batch whose trial hoop is not accepted."""
        return next((batch for batch in self.batches if batch.accepted_trial_id is None), None)

    @property
    def is_open(self) -> bool:
        return bool(self.batches) and self.waiting is None

    @property
    def url(self) -> str:
        """Where the next thing is done: the batch in trial, or a new batch for the house."""
        if batch := self.waiting:
            return batch.get_absolute_url()
        return f"{reverse('hoops:batch-new')}?house={self.house.slug}"

    @property
    def label(self) -> str:
        if self.waiting:
            return gettext("Measure and accept the trial hoop")
        return gettext("Start a batch of hoops")

    @property
    def words(self) -> str:
        if batch := self.waiting:
            proven = sum(row.accepted_trial_id is not None for row in self.batches)
            said = {"batch": batch, "house": self.house, "proven": proven, "all": len(self.batches)}
            if not proven:
                return gettext("The trial hoop of %(batch)s is not accepted yet.") % said
            return (
                gettext(
                    "The trial hoop of %(batch)s is not accepted yet, %(proven)s of %(all)s batches for %(house)s"
                    " have it."
                )
                % said
            )
        words = gettext("No batch of hoops is started for %(house)s, so there is no trial hoop to accept.")
        return words % {"house": self.house}


def gates_of(*, organisation: Organisation, houses: Iterable[House]) -> dict[int, Gate]:
    """By the key of the house; one query."""
    rows = {house.pk: house for house in houses}
    batches = batches_for(organisation=organisation, houses=rows.values())
    return {pk: Gate(house, tuple(batches.get(pk, ()))) for pk, house in rows.items()}


def closed_gates(*, organisation: Organisation, tasks: Iterable[Task]) -> dict[int, Gate]:
    """By the key of each of ``tasks`` that the gate keeps from being done or begun. At most two queries.

    A trial waits for the acceptance of its hoop; the bend waits for the task of the trial.
    """
    gated = [task for task in tasks if task.kind in GATED and task.state != Task.State.DONE]
    if not gated:
        return {}
    houses = {task.house_id: task.house for task in gated}
    waits = {*_houses_in_trial(organisation.pk, houses)}
    gates = gates_of(organisation=organisation, houses=[houses[pk] for pk in waits])
    return {task.pk: gates[task.house_id] for task in gated if task.house_id in waits and _holds(task, gates)}


@compiled_once
def _houses_in_trial(organisation: int, houses: Sequence[int]) -> QuerySet[Task]:
    trials = Task.objects.filter(organisation_id=organisation, house__in=houses, kind=Kind.TRIAL)
    return trials.exclude(state=Task.State.DONE).order_by().values_list("house", flat=True)


def _holds(task: Task, gates: dict[int, Gate]) -> bool:
    return task.kind == Kind.BEND or not gates[task.house_id].is_open
