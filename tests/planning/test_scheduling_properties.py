"""Random small schedules against trying everything."""

from __future__ import annotations

import itertools
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.scheduling import plan_work
from farmbuild.planning.scheduling.bounds import has_enough_hours, work_bound
from farmbuild.planning.scheduling.budget import Budget
from farmbuild.planning.scheduling.inputs import After, Need, Placed, Resource, Resources, Task, Way, Window
from farmbuild.planning.scheduling.late_bound import late_work_bound
from farmbuild.planning.scheduling.problem import compiled
from farmbuild.planning.scheduling.verify import faults
from tests.planning.scheduling_reference import better
from tests.size import examples, sized

#: From here on everything is there; before, the windows are broken.
BROKEN = 12
LAST = 34
PLACES = ("", "A", "B", "C")


@st.composite
def resources(draw: st.DrawFn) -> Resources:
    made = []
    for ref, travels in (("crew", True), ("other crew", True), ("bender", False)):
        capacity = draw(st.integers(1, 3))
        windows: tuple[Window, ...] | None = None
        if draw(st.booleans()):
            edges = sorted(draw(st.sets(st.integers(0, BROKEN), max_size=6)))
            spans = [Window(a, b, draw(st.integers(0, capacity))) for a, b in itertools.pairwise(edges)]
            windows = (*spans, Window(BROKEN, 10 * LAST, capacity))
        made.append(Resource(ref, capacity, windows, travels))
    pairs = [("A", "B"), ("B", "A"), ("A", "C")]
    travel = {pair: draw(st.integers(0, 3)) for pair in pairs if draw(st.booleans())}
    return Resources(tuple(made), travel, draw(st.integers(0, 2)))


@st.composite
def projects(draw: st.DrawFn, most: int = 4) -> tuple[list[Task], Resources]:
    given_resources = draw(resources())
    room = {resource.ref: resource.capacity for resource in given_resources.resources}
    tasks: list[Task] = []
    for number in range(draw(st.integers(1, most))):
        ways = []
        for _ in range(draw(st.integers(1, 2))):
            refs = draw(st.sets(st.sampled_from(sorted(room)), max_size=2))
            needs = tuple(Need(ref, draw(st.integers(1, room[ref]))) for ref in sorted(refs))
            ways.append(Way(needs, draw(st.integers(0, 4))))
        after = tuple(After(task.ref, draw(st.integers(0, 2))) for task in tasks if draw(st.integers(0, 2)) == 0)
        due = draw(st.one_of(st.none(), st.integers(1, 14)))
        release = draw(st.integers(0, 4))
        job = draw(st.sampled_from(("", "h1", "h2")))
        place = draw(st.sampled_from(PLACES))
        tasks.append(Task(f"t{number}", tuple(ways), after, release, due, job, place, draw(st.booleans())))
    return tasks, given_resources


@examples(30, 600)
@given(projects())
def test_nothing_is_better(project: tuple[list[Task], Resources]) -> None:
    tasks, given_resources = project
    plan = plan_work(tasks, given_resources)
    assert faults(tasks, given_resources, plan) == []
    assert plan.unplaced == ()
    assert plan.optimal, plan.method
    assert better(tasks, given_resources, len(plan.late), plan.makespan, LAST) is None
    # What the bounds of large schedules say does not go against the best that there is.
    problem = compiled(tasks, given_resources)
    assert late_work_bound(problem) <= len(plan.late)
    assert has_enough_hours(problem, plan.makespan)
    assert work_bound(problem, plan.makespan + 9, Budget(600.0, 9.0, None)) <= plan.makespan


@examples(30, 600)
@given(projects(), st.data())
def test_fixed_tasks_stay_and_the_others_fit_round_them(
    project: tuple[list[Task], Resources], data: st.DataObject
) -> None:
    tasks, given_resources = project
    chosen = data.draw(st.integers(0, len(tasks) - 1))
    start = data.draw(st.integers(0, 10))
    fixed = Placed(tasks[chosen].ref, start, start + data.draw(st.integers(0, 5)), 0)
    tasks[chosen] = replace(tasks[chosen], fixed=fixed)
    plan = plan_work(tasks, given_resources)
    assert fixed in plan.placed
    assert faults(tasks, given_resources, plan) == []
    assert len(plan.placed) == len(tasks)


# Trying everything takes minutes for some cases of four tasks: the long run has them.
@examples(20, 600)
@given(projects(sized(3, 4)), st.data())
def test_as_little_as_can_be_moves_when_a_task_slips(
    project: tuple[list[Task], Resources], data: st.DataObject
) -> None:
    """A schedule no later and no longer with fewer moves would be better by any measure."""
    tasks, given_resources = project
    first = {place.task: place for place in plan_work(tasks, given_resources).placed}
    tasks = [replace(task, published=first[task.ref]) for task in tasks]
    unchanged = plan_work(tasks, given_resources)
    assert unchanged.moved == ()
    slipped = data.draw(st.integers(0, len(tasks) - 1))
    release = first[tasks[slipped].ref].start + data.draw(st.integers(1, 4))
    tasks[slipped] = replace(tasks[slipped], release=release)
    plan = plan_work(tasks, given_resources)
    assert faults(tasks, given_resources, plan) == []
    moved = len(plan.moved)
    assert better(tasks, given_resources, len(plan.late), plan.makespan, LAST, moved=moved) is None
    assert better(tasks, given_resources, len(plan.late), 0, LAST) is None
