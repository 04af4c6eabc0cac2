"""Schedules put together from both ends, and time run backwards, each checked slot by slot."""

from __future__ import annotations

from dataclasses import replace

import pytest

from farmbuild.planning.scheduling.both_ends import improve_from_both_ends, is_short
from farmbuild.planning.scheduling.bounds import has_enough_hours, work_bound
from farmbuild.planning.scheduling.budget import Budget
from farmbuild.planning.scheduling.draft import Place
from farmbuild.planning.scheduling.greedy import parallel, ranks
from farmbuild.planning.scheduling.inputs import Placed, Resources, Task, WorkPlan
from farmbuild.planning.scheduling.mirror import mirrored, turned
from farmbuild.planning.scheduling.problem import compiled
from farmbuild.planning.scheduling.start import first_draft
from farmbuild.planning.scheduling.verify import faults
from tests.planning.work_seasons import WEEK, season


def wrong(tasks: list[Task], resources: Resources, places: dict[int, Place]) -> list[str]:
    nodes = compiled(tasks, resources).nodes
    placed = tuple(Placed(nodes[k].task.ref, a, b, nodes[k].options[o].way) for k, (o, a, b) in sorted(places.items()))
    ends = {place.task: place.end for place in placed}
    late = {task.job for task in tasks if task.due is not None and ends[task.ref] > task.due}
    return [
        str(fault) for fault in faults(tasks, resources, WorkPlan(placed, max(ends.values()), 0, False, tuple(late)))
    ]


def far() -> Budget:
    return Budget(600.0, 0.3, None)


@pytest.mark.parametrize("number", [0, 3])
def test_a_schedule_made_backwards_keeps_every_rule(number: int) -> None:
    tasks, resources = season(5, 2, crews=(2, 5), benders=2, weeks=12, spread=0.2)
    end = 10 * WEEK - 30
    tasks = [replace(task, release=0, due=end - 20) for task in tasks]
    back = mirrored(compiled(tasks, resources), end)
    places = turned(parallel(back, ranks(back)[number]).places, end)
    assert len(places) == len(tasks)
    assert max(stop for _, _, stop in places.values()) <= end - 20
    # So long as it has the time, it starts as late as it can.
    assert min(start for _, start, _ in places.values()) > WEEK
    assert wrong(tasks, resources, places) == []


def test_a_short_season_ends_sooner_from_both_ends_and_the_same_twice() -> None:
    tasks, resources = season(10, 5, crews=(2, 3, 4), benders=2, weeks=20, spread=0.2)
    found = []
    for _ in range(2):
        problem = compiled(tasks, resources)
        draft, _ = first_draft(problem)
        before = draft.makespan
        bound = work_bound(problem, before, far())
        assert is_short(draft)
        improve_from_both_ends(draft, far(), 0.1, bound)
        assert bound <= draft.makespan < before
        assert wrong(tasks, resources, draft.places) == []
        found.append(draft.places)
    assert found[0] == found[1]


def test_a_few_looks_come_near_the_least_end_with_enough_hours() -> None:
    tasks, resources = season(10, 5, crews=(2, 3, 4), benders=2, weeks=20, spread=0.4)
    problem = compiled(tasks, resources)
    makespan = first_draft(problem)[0].makespan
    bound = work_bound(problem, makespan, Budget(600.0, 0.0, None), looks=8)
    assert not has_enough_hours(problem, bound - 1)
    assert has_enough_hours(problem, bound + makespan // 200)


def test_it_is_left_alone_where_crews_have_time_or_something_is_fixed() -> None:
    tasks, resources = season(10, 1, crews=(2, 3, 4), benders=2, weeks=20, spread=2.0)
    draft, _ = first_draft(compiled(tasks, resources))
    assert not is_short(draft)
    tasks, resources = season(10, 1, crews=(2, 3, 4), benders=2, weeks=20, spread=0.2)
    draft, _ = first_draft(compiled(tasks, resources))
    assert is_short(draft)
    option, start, end = draft.places[0]
    fixed = Placed(tasks[0].ref, start, end, draft.problem.nodes[0].options[option].way)
    draft, _ = first_draft(compiled([replace(tasks[0], fixed=fixed), *tasks[1:]], resources))
    assert not is_short(draft)
