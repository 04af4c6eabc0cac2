"""What has to share a bender or a few crews in too short a time, against schedules by hand and all orders there are."""

from __future__ import annotations

import heapq
import itertools

import pytest

from farmbuild.planning.scheduling import plan_work
from farmbuild.planning.scheduling.bounds import has_enough_hours
from farmbuild.planning.scheduling.calendar import Calendar, any_of
from farmbuild.planning.scheduling.inputs import After, Need, Resource, Resources, Task, Way, Window
from farmbuild.planning.scheduling.problem import compiled

#: Release, time on the machine and time after it of seven jobs: the example of Carlier, "The one-machine sequencing
#: problem", European Journal of Operational Research 11, 1982 (figures from memory).
CARLIER = ((10, 5, 7), (13, 6, 26), (11, 7, 24), (20, 4, 21), (30, 3, 8), (0, 6, 17), (30, 2, 0))


def machine(jobs: tuple[tuple[int, int, int], ...]) -> tuple[list[Task], Resources]:
    tasks = []
    for number, (release, work, behind) in enumerate(jobs):
        tasks.append(Task(f"bend {number}", (Way((Need("Bender"),), work),), release=release))
        tasks.append(Task(f"rest {number}", (Way((), behind),), (After(f"bend {number}"),)))
    return tasks, Resources((Resource("Bender", 1),))


def preemptive(jobs: tuple[tuple[int, int, int], ...]) -> int:
    """Jackson's preemptive schedule, slot by slot: of what is there, what has most behind it goes on."""
    left = {number: work for number, (_, work, _) in enumerate(jobs)}
    end = slot = 0
    while any(left.values()):
        ready = [(-jobs[k][2], k) for k, work in left.items() if work and jobs[k][0] <= slot]
        if ready:
            _, k = heapq.nsmallest(1, ready)[0]
            left[k] -= 1
            if not left[k]:
                end = max(end, slot + 1 + jobs[k][2])
        slot += 1
    return end


def best_of_all_orders(jobs: tuple[tuple[int, int, int], ...]) -> int:
    def ends(order: tuple[tuple[int, int, int], ...]) -> int:
        free = end = 0
        for release, work, behind in order:
            free = max(free, release) + work
            end = max(end, free + behind)
        return end

    return min(ends(order) for order in itertools.permutations(jobs))


def least_end(tasks: list[Task], resources: Resources, most: int) -> int:
    problem = compiled(tasks, resources)
    return next(end for end in range(most + 1) if has_enough_hours(problem, end))


def test_one_machine_is_bounded_as_well_as_by_its_preemptive_schedule() -> None:
    best = best_of_all_orders(CARLIER)
    assert least_end(*machine(CARLIER), most=best) == preemptive(CARLIER) <= best


@pytest.mark.parametrize("turn", range(3))
def test_the_bound_of_other_jobs_is_met_too(turn: int) -> None:
    jobs = tuple(
        (release * (turn + 1) % 17, work + (number + turn) % 3, behind * (turn + 2) % 23)
        for number, (release, work, behind) in enumerate(CARLIER)
    )
    best = best_of_all_orders(jobs)
    assert least_end(*machine(jobs), most=best) == preemptive(jobs) <= best


def test_a_bender_works_only_while_someone_who_bends_is_there() -> None:
    """24 slots of bending, ten a day: the third day it is, however many crews there are."""
    days = tuple(Window(24 * day, 24 * day + 10, 2) for day in range(5))
    crews = [Resource(f"Crew {k}", 2, days, travels=True) for k in range(3)]
    ways = tuple(Way((Need(crew.ref), Need("Bender")), 8) for crew in crews)
    tasks = [Task(f"bend {k}", ways) for k in range(3)]
    resources = Resources((*crews, Resource("Bender", 1)))
    problem = compiled(tasks, resources)
    assert not has_enough_hours(problem, 2 * 24 + 3)
    assert has_enough_hours(problem, 2 * 24 + 4)
    assert plan_work(tasks, resources).makespan == 2 * 24 + 4


def test_what_only_two_of_three_crews_can_do_waits_for_those_two() -> None:
    crews = [Resource(f"Crew {k}", 1, travels=True) for k in range(3)]
    two = tuple(Way((Need(crew.ref),), 6) for crew in crews[:2])
    tasks = [Task(f"film {k}", two, release=20) for k in range(5)]
    problem = compiled(tasks, Resources(tuple(crews)))
    # Thirty slots of work for two from slot 20 on; in whole tasks it is 38, which hours alone do not tell.
    assert not has_enough_hours(problem, 34)
    assert has_enough_hours(problem, 35)


def test_either_of_two_calendars() -> None:
    both = any_of([Calendar([(0, 4), (10, 12)]), Calendar([(2, 6), (12, 13), (20, 21)])])
    assert list(zip(both.starts, both.ends, strict=True)) == [(0, 6), (10, 13), (20, 21)]
    assert any_of([]).total == 0
