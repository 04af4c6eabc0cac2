"""What makes no sense in the tasks and resources of a schedule, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from farmbuild.planning.scheduling.inputs import Placed, Resource, Resources, Task
from farmbuild.planning.scheduling.problem import in_order

#: Latest slot and largest amount.
LARGEST = 10**7


class WorkError(ValueError):
    """Input that makes no sense. ``reasons`` are sentences, one for each thing to put right."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__(" ".join(self.reasons))


def check(tasks: Sequence[Task], resources: Resources) -> None:
    """Raise ``WorkError`` when there is anything to put right."""
    reasons = list(dict.fromkeys([*_of_resources(resources), *_of_tasks(tasks, resources)]))
    if not reasons:
        reasons = list(_circle(tasks))
    if reasons:
        raise WorkError(reasons)


def _of_resources(resources: Resources) -> Iterator[str]:
    seen: set[str] = set()
    for resource in resources.resources:
        if resource.ref in seen:
            yield f"Resource {resource.ref} is given twice; give it once."
        seen.add(resource.ref)
        yield from _of_resource(resource)
    for (one, other), slots in resources.travel.items():
        if not _whole(slots):
            yield f"Travel from {one} to {other} is {slots!r}; give whole slots, 0 or more."
    if not _whole(resources.travel_else):
        yield f"Travel between other places is {resources.travel_else!r}; give whole slots, 0 or more."


def _of_resource(resource: Resource) -> Iterator[str]:
    if not _whole(resource.capacity):
        yield f"Resource {resource.ref} has capacity {resource.capacity!r}; give a whole number, 0 or more."
    last = 0
    for window in resource.windows or ():
        if not (_whole(window.start) and _whole(window.end) and _whole(window.capacity)):
            yield f"Resource {resource.ref} has a window that is not in whole numbers, 0 or more: {window}."
            return
        if window.end < window.start:
            yield f"Resource {resource.ref} has a window that ends before it starts, at slot {window.start}."
        if window.start < last:
            yield f"Resource {resource.ref} has windows that overlap at slot {window.start}; list them in order."
        last = max(last, window.end)


def _of_tasks(tasks: Sequence[Task], resources: Resources) -> Iterator[str]:
    known = {resource.ref for resource in resources.resources}
    refs: set[str] = set()
    for task in tasks:
        if task.ref in refs:
            yield f"Task {task.ref} is given twice; give it once."
        refs.add(task.ref)
    for task in tasks:
        yield from _of_task(task, refs, known)


def _of_task(task: Task, refs: set[str], known: set[str]) -> Iterator[str]:
    if not _whole(task.release):
        yield f"Task {task.ref} may start from slot {task.release!r}; give a whole number, 0 or more."
    if task.due is not None and not _whole(task.due):
        yield f"Task {task.ref} is due at slot {task.due!r}; give a whole number, 0 or more."
    for way in task.ways:
        if not _whole(way.duration):
            yield f"Task {task.ref} takes {way.duration!r} slots one way; give a whole number, 0 or more."
        for need in way.needs:
            if need.resource not in known:
                yield f"Task {task.ref} needs {need.resource}, which is not among the resources."
            if not _whole(need.amount):
                yield f"Task {task.ref} needs {need.amount!r} of {need.resource}; give a whole number, 0 or more."
    for after in task.after:
        if after.task not in refs:
            yield f"Task {task.ref} waits for {after.task}, which is not among the tasks."
        if not _whole(after.lag):
            yield f"Task {task.ref} waits {after.lag!r} slots after {after.task}; give a whole number, 0 or more."
    if task.fixed is not None:
        yield from _of_place(task, task.fixed, "fixed")


def _of_place(task: Task, placed: Placed, word: str) -> Iterator[str]:
    if placed.task != task.ref:
        yield f"Task {task.ref} is {word} with the place of another task, {placed.task}."
    if not (_whole(placed.start) and _whole(placed.end) and placed.start <= placed.end):
        yield f"Task {task.ref} is {word} from slot {placed.start!r} to {placed.end!r}; it cannot end before it starts."
    if not 0 <= placed.way < len(task.ways):
        yield f"Task {task.ref} is {word} in way {placed.way}, and has {len(task.ways)} ways, counted from 0."


def _circle(tasks: Sequence[Task]) -> Iterator[str]:
    left = {task.ref: task for task in tasks}
    for ref in in_order(tasks):
        del left[ref]
    if not left:
        return
    # Whoever is left waits for someone who is left too, so walking back comes round in the end.
    ref = next(iter(left))
    path: list[str] = []
    while ref not in path:
        path.append(ref)
        ref = next(after.task for after in left[ref].after if after.task in left)
    circle = [*path[path.index(ref) :], ref]
    yield f"These tasks wait for each other in a circle: {', which waits for '.join(circle)}."


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= LARGEST
