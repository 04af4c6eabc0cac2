"""Plain projects solved by PyJobShop, for comparison."""

from __future__ import annotations

from collections.abc import Sequence

from pyjobshop import Model

from farmbuild.planning.scheduling.inputs import Resources, Task


def in_package(tasks: Sequence[Task], resources: Resources, seconds: float = 60.0) -> tuple[float, float]:
    """Makespan and bound found by PyJobShop with two workers."""
    model = Model()
    kinds = [model.add_renewable(resource.capacity) for resource in resources.resources]
    nodes = {task.ref: model.add_task() for task in tasks}
    for task in tasks:
        (way,) = task.ways
        amounts = {need.resource: need.amount for need in way.needs}
        demands = [amounts.get(resource.ref, 0) for resource in resources.resources]
        model.add_mode(nodes[task.ref], kinds, way.duration, demands)
        for after in task.after:
            model.add_end_before_start(nodes[after.task], nodes[task.ref])
    result = model.solve(display=False, num_workers=2, time_limit=seconds)
    return result.objective, result.lower_bound
