"""What can be pressed at a task, by whom."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any
from uuid import uuid4

from farmbuild.crew.actuals.bends import batch_hoops, counted_words
from farmbuild.crew.actuals.forms import TickForm
from farmbuild.crew.actuals.selectors import AtIt, at_it
from farmbuild.crew.actuals.taking_back import may_take_back
from farmbuild.crew.actuals.words import press_words, running_words, said_unit
from farmbuild.crew.models import Actual, Person, Task
from farmbuild.crew.people.selectors import people_in, person_of
from farmbuild.hoops.batches.selectors import HouseHoops
from farmbuild.orgs.acts import Act, may
from farmbuild.orgs.models import Organisation, User


def unit_of(task: Task) -> str:
    return said_unit(task)[1]


def task_presses(task: Task, kept: list[Actual], *, organisation: Organisation, user: User) -> dict[str, Any]:
    """For the page of a task, what the one who looks at it can press. ``kept``: as for ``press_block``."""
    person = person_of(organisation=organisation, user=user)
    plans = may(organisation=organisation, user=user, act=Act.PLAN)
    size = people_in(crew=task.crew).count() if task.crew else 0
    may_undo = partial(may_take_back, user=user, plans=plans)
    return {"task": task, "person": person} | press_block(
        task, kept, person=person, crew_size=size, may_undo=may_undo, hoops=batch_hoops(task)
    )


def press_block(
    task: Task,
    kept: list[Actual],
    *,
    person: Person | None,
    crew_size: int,
    may_undo: Callable[..., bool],
    typed: TickForm | None = None,
    hoops: HouseHoops | None = None,
) -> dict[str, Any]:
    """What fits the state of the task for ``person``. ``kept``: its rows in order, with who took each back; ``hoops``:
    what batches count instead of presses."""
    state = at_it(kept, person)
    return {
        "hoops": hoops,
        "counted": counted_words(hoops) if hoops else "",
        "own": state.own,
        "at_it": running_words(state.running),
        "people": state.people(crew_size),
        "takes_back": [(row, press_words(row)) for row in state.last if may_undo(actual=row)],
        "form": typed
        or TickForm(
            task=task,
            unit=unit_of(task),
            counted=bool(hoops),
            initial={"key": uuid4(), "people": _usual_people(task, state)},
        ),
    }


def _usual_people(task: Task, state: AtIt) -> int:
    """Of one run: those whom the task takes, without who has a run of their own."""
    return max(1, task.people - len([row for row in state.running if row is not state.own]))
