"""Plain projects as numbers, and the lists that are bred for them."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.scheduling import plan_work
from farmbuild.planning.scheduling.bounds import makespan_bound
from farmbuild.planning.scheduling.budget import Budget, Found
from farmbuild.planning.scheduling.greedy import serial
from farmbuild.planning.scheduling.inputs import After, Need, Placed, Resource, Resources, Task, Way, Window
from farmbuild.planning.scheduling.lists import breed
from farmbuild.planning.scheduling.plain import plain
from farmbuild.planning.scheduling.plan import _as_plan
from farmbuild.planning.scheduling.problem import Problem, compiled
from farmbuild.planning.scheduling.search import Outcome
from farmbuild.planning.scheduling.start import first_draft
from farmbuild.planning.scheduling.verify import faults
from farmbuild.planning.scheduling.whole import MAX_WAYS, Whole
from tests.planning.scheduling_reference import better
from tests.size import examples

LAST = 34
SHARED = Resources((Resource("hands", 4), Resource("bender", 1), Resource("trailers", 2)))
MANY = Resources((Resource("hands", 12), Resource("frames", 9), Resource("trailers", 10)))


@st.composite
def plain_projects(draw: st.DrawFn) -> tuple[list[Task], Resources]:
    room = {resource.ref: resource.capacity for resource in SHARED.resources}
    tasks: list[Task] = []
    for number in range(draw(st.integers(1, 4))):
        refs = draw(st.sets(st.sampled_from(sorted(room)), max_size=3))
        needs = tuple(Need(ref, draw(st.integers(1, room[ref]))) for ref in sorted(refs))
        after = tuple(After(task.ref, draw(st.integers(0, 2))) for task in tasks if draw(st.integers(0, 2)) == 0)
        way = Way(needs, draw(st.integers(0, 4)))
        tasks.append(Task(f"t{number}", (way,), after, release=draw(st.integers(0, 4))))
    return tasks, SHARED


def invented(count: int, seed: int, times: int = 1) -> list[Task]:
    """A project of so many tasks, each of which waits for up to three of those shortly before it."""
    chance = random.Random(seed)
    tasks: list[Task] = []
    for number in range(count):
        needs = tuple(
            Need(resource.ref, chance.randint(1, resource.capacity // 2))
            for resource in MANY.resources
            if chance.random() < 0.7
        )
        near = tasks[-12:]
        after = tuple(After(task.ref) for task in chance.sample(near, min(len(near), chance.randint(0, 3))))
        tasks.append(Task(f"t{number}", (Way(needs, times * chance.randint(1, 9)),), after))
    return tasks


def in_turn(problem: Problem, seed: int) -> list[int]:
    """An order of the tasks, drawn at random, in which each comes after what it waits for."""
    chance = random.Random(seed)
    left, order = set(range(len(problem.nodes))), []
    while left:
        ready = [k for k in sorted(left) if not any(j in left for j, _ in problem.nodes[k].before)]
        order.append(chance.choice(ready))
        left.remove(order[-1])
    return order


@examples(60)
@given(plain_projects(), st.integers(0, 9))
def test_a_list_gives_the_same_schedule_as_the_general_way_of_placing(
    project: tuple[list[Task], Resources], seed: int
) -> None:
    problem = compiled(*project)
    numbers = plain(problem)
    assert numbers is not None
    order = in_turn(problem, seed)
    rank = [order.index(k) for k in range(len(order))]
    draft = serial(problem, rank)
    ends, _ = numbers.forwards(order)
    assert [end * numbers.step for end in ends] == [draft.places[k][2] for k in range(len(order))]


@examples(60)
@given(plain_projects(), st.integers(0, 9))
def test_backwards_is_forwards_of_the_project_turned_round(project: tuple[list[Task], Resources], seed: int) -> None:
    tasks, resources = project
    tasks = [replace(task, release=0) for task in tasks]
    turned = [
        replace(
            task,
            after=tuple(
                After(other.ref, after.lag) for other in tasks for after in other.after if after.task == task.ref
            ),
        )
        for task in tasks
    ]
    problem, other = compiled(tasks, resources), compiled(turned, resources)
    numbers, others = plain(problem), plain(other)
    assert numbers is not None
    assert others is not None
    order = in_turn(other, seed)
    assert numbers.backwards(order)[0] == others.forwards(order)[0]


@examples(25)
@given(plain_projects())
def test_what_is_bred_keeps_every_rule_and_what_is_proven_is_the_best(project: tuple[list[Task], Resources]) -> None:
    tasks, resources = project
    problem = compiled(tasks, resources)
    numbers = plain(problem)
    assert numbers is not None
    draft, _ = first_draft(problem)
    before = draft.makespan
    bound = makespan_bound(problem)
    breed(draft, numbers, Budget(600.0, 0.005, None), 0.005, bound)
    assert faults(tasks, resources, _as_plan(Outcome(draft, bound, 0, ""), "")) == []
    assert bound <= draft.makespan <= before
    plan = plan_work(tasks, resources)
    assert faults(tasks, resources, plan) == []
    assert plan.optimal
    assert plan.makespan <= draft.makespan
    assert better(tasks, resources, 0, plan.makespan, LAST) is None


def test_breeding_shortens_what_the_rules_of_thumb_find_and_does_so_alike_each_time() -> None:
    found = []
    for _ in range(2):
        problem = compiled(invented(60, 3), MANY)
        numbers = plain(problem)
        assert numbers is not None
        draft, _ = first_draft(problem)
        before = draft.makespan
        budget = Budget(600.0, 0.04, None)
        breed(draft, numbers, budget, 0.04, 0)
        assert 0.04 <= budget.spent < 0.045
        found.append((before, draft.makespan, draft.places))
    assert found[0][1] < found[0][0]
    assert found[0] == found[1]


def test_a_project_that_is_not_settled_is_planned_alike_each_time() -> None:
    tasks = invented(90, 4)
    plans = [plan_work(tasks, MANY, effort=0.06, time_limit=600.0) for _ in range(2)]
    assert faults(tasks, MANY, plans[0]) == []
    assert plans[0].bound < plans[0].makespan
    assert plans[0].method == "lists of tasks, bred, and the whole model"
    assert plans[0] == plans[1]


def test_a_plain_project_too_large_for_one_model_goes_on_part_by_part_from_what_was_bred() -> None:
    tasks = invented(MAX_WAYS + 10, 2)
    problem = compiled(tasks, MANY)
    assert plain(problem) is not None
    assert not Whole(problem).small
    by_rules, _ = first_draft(problem)
    plan = plan_work(tasks, MANY, effort=0.3, time_limit=600.0)
    assert faults(tasks, MANY, plan) == []
    assert plan.makespan < by_rules.makespan
    assert plan.method == "lists of tasks, bred, then improved part by part"


@examples(25)
@given(plain_projects())
def test_asking_for_a_sooner_end_until_there_is_none_ends_with_the_best(
    project: tuple[list[Task], Resources],
) -> None:
    tasks, resources = project
    problem = compiled(tasks, resources)
    draft = serial(problem, [-node.head for node in problem.nodes])
    outcome = Outcome(draft, makespan_bound(problem), 0, "")
    Whole(problem).none_sooner(outcome, Budget(600.0, 5.0, None), 1.0)
    assert outcome.bound == draft.makespan
    assert faults(tasks, resources, _as_plan(outcome, "")) == []
    assert better(tasks, resources, 0, draft.makespan, LAST) is None


def test_breeding_tells_what_is_found_and_ends_when_asked_with_the_best_so_far() -> None:
    problem = compiled(invented(60, 3), MANY)
    numbers = plain(problem)
    assert numbers is not None
    draft, _ = first_draft(problem)
    ends = [draft.makespan]

    def told(found: Found) -> bool:
        ends.append(found.ends)
        return found.ends < ends[0]

    budget = Budget(600.0, 5.0, told)
    breed(draft, numbers, budget, 5.0, 0)
    assert budget.spent < 0.04
    assert draft.makespan <= ends[-1] < ends[0]
    assert faults(invented(60, 3), MANY, _as_plan(Outcome(draft, 0, 0, ""), "")) == []


def test_a_bound_that_is_met_ends_the_breeding() -> None:
    problem = compiled(invented(60, 3), MANY)
    numbers = plain(problem)
    assert numbers is not None
    draft, _ = first_draft(problem)
    budget = Budget(600.0, 5.0, None)
    breed(draft, numbers, budget, 5.0, draft.makespan - 1)
    assert budget.spent < 0.04


def test_long_slots_are_counted_in_steps() -> None:
    """Whatever a slot stands for, the same project has the same schedule."""
    one, many = plain(compiled(invented(30, 5), MANY)), plain(compiled(invented(30, 5, times=96), MANY))
    assert one is not None
    assert many is not None
    assert (one.step, many.step) == (1, 96)
    assert one.duration == many.duration
    assert one.forwards(one.order) == many.forwards(many.order)
    odd = [*invented(30, 5, times=96), Task("odd", (Way((), 5_001 * 7),))]
    assert plain(compiled(odd, MANY)) is None


WAY = Way((Need("hands"),), 2)


@pytest.mark.parametrize(
    "task",
    [
        Task("t", (WAY, Way((Need("hands", 2),), 1))),
        Task("t", (WAY,), due=9),
        Task("t", (WAY,), fixed=Placed("t", 0, 2, 0)),
        Task("t", (WAY,), published=Placed("t", 0, 2, 0)),
        Task("t", (Way((Need("crew"),), 2),)),
        Task("t", (Way((Need("by day"),), 2),)),
        Task("t", (Way((Need("less at first"),), 2),)),
    ],
)
def test_where_there_is_more_to_it_the_project_is_not_plain(task: Task) -> None:
    hands, crew = Resource("hands", 4), Resource("crew", 1, travels=True)
    by_day = Resource("by day", 1, (Window(0, 9, 1),))
    less = Resource("less at first", 2, (Window(0, 9, 1), Window(9, 1 << 41, 2)))
    resources = Resources((hands, crew, by_day, less))
    if task.ways[0].needs[0].resource != "less at first":
        resources = Resources((hands, crew, by_day))
    assert plain(compiled([Task("other", (WAY,))], Resources((hands, crew, by_day)))) is not None
    assert plain(compiled([task, Task("other", (WAY,))], resources)) is None
