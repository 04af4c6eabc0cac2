"""Schedules with known answers, input that makes no sense, and what stays the same."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from functools import cache

import pytest

from farmbuild.planning.scheduling import WorkError, plan_work
from farmbuild.planning.scheduling import start as work_start
from farmbuild.planning.scheduling.budget import Found
from farmbuild.planning.scheduling.inputs import (
    After,
    Need,
    Placed,
    Resource,
    Resources,
    Task,
    Way,
    Window,
    WorkPlan,
)
from farmbuild.planning.scheduling.late_bound import late_work_bound
from farmbuild.planning.scheduling.problem import compiled
from farmbuild.planning.scheduling.reasons import Hindrance, Reason
from farmbuild.planning.scheduling.start import first_draft
from farmbuild.planning.scheduling.verify import Broken, faults
from tests.planning.work_seasons import DAY, season
from tests.where import ROOT

CREW = Resource("crew", 2, travels=True)


def task(ref: str, duration: int, *needs: tuple[str, int], **rest: object) -> Task:
    return Task(ref, (Way(tuple(Need(*need) for need in needs), duration),), **rest)  # type: ignore[arg-type]


def places(plan: WorkPlan) -> dict[str, tuple[int, int]]:
    return {place.task: (place.start, place.end) for place in plan.placed}


def test_nothing_to_do() -> None:
    plan = plan_work([], Resources(()))
    assert (plan.placed, plan.makespan, plan.bound, plan.optimal, plan.gap) == ((), 0, 0, True, 0.0)


def test_a_crew_stops_for_the_night_and_a_bender_is_held_meanwhile() -> None:
    """Ten hours a day from 8: six hours begun at 14 end at 10 next day; the bender is free from then on."""
    days = tuple(Window(24 * day + 8, 24 * day + 18, 2) for day in range(5))
    other = Resource("other", 2, travels=True)
    resources = Resources((Resource("crew", 2, days, travels=True), other, Resource("bender", 1)))
    tasks = [
        task("bend", 6, ("crew", 2), ("bender", 1), release=14),
        task("bend too", 3, ("other", 1), ("bender", 1), release=15),
    ]
    plan = plan_work(tasks, resources)
    assert places(plan) == {"bend": (14, 34), "bend too": (34, 37)}
    assert plan.optimal
    in_one_go = plan_work([replace(tasks[0], pauses=False)], resources)
    assert places(in_one_go) == {"bend": (32, 38)}


def test_the_crew_drives_between_sites_the_shorter_way_round() -> None:
    """From A, C is far and B near; A B C is 3 + 1 + 1 of work and 2 + 2 of driving."""
    resources = Resources((CREW,), {("A", "B"): 2, ("B", "C"): 2, ("A", "C"): 9})
    tasks = [task(place, duration, ("crew", 1), place=place) for place, duration in (("C", 1), ("B", 1), ("A", 3))]
    plan = plan_work(tasks, resources)
    # Every two tasks keep their journey, so A and C are 9 apart whatever lies between.
    assert plan.makespan == 3 + 9 + 1
    assert plan.optimal
    assert faults(tasks, resources, plan) == []


def test_a_task_for_more_people_waits_until_they_are_all_there() -> None:
    crew = Resource("crew", 4, (Window(0, 4, 2), Window(4, 8, 4), Window(8, 12, 3)), travels=True)
    plan = plan_work([task("film", 2, ("crew", 4)), task("ends", 3, ("crew", 2))], Resources((crew,)))
    assert places(plan) == {"film": (4, 6), "ends": (0, 3)}


def test_fewer_late_houses_come_before_an_early_end() -> None:
    """The quick order leaves the second house late; in time, the first one dries until later."""
    tasks = [
        task("frame 1", 4, ("crew", 1), job="1"),
        task("paint 1", 1, after=(After("frame 1", 10),), job="1", due=20),
        task("frame 2", 3, ("crew", 1), job="2", due=3),
    ]
    plan = plan_work(tasks, Resources((CREW,)))
    assert plan.late == ()
    assert places(plan)["frame 2"] == (0, 3)
    assert (plan.makespan, plan.bound, plan.optimal) == (18, 18, True)


def test_one_of_two_houses_has_to_be_late_and_that_is_proven() -> None:
    tasks = [task(f"set {k}", 3, ("crew", 1), job=f"house {k}", due=4) for k in (1, 2)]
    plan = plan_work(tasks, Resources((CREW,)))
    assert (len(plan.late), plan.late_bound, plan.makespan, plan.optimal) == (1, 1, 6, True)


def test_of_five_houses_with_hours_for_two_three_have_to_be_late() -> None:
    tasks = [task(f"set {k}", 3, ("crew", 1), job=f"house {k}", due=8) for k in range(5)]
    assert late_work_bound(compiled(tasks, Resources((CREW,)))) == 3
    other = Resource("other crew", 2, travels=True)
    tasks = [replace(one, ways=(*one.ways, Way((Need("other crew"),), 4))) for one in tasks]
    # 8 slots are 2 2/3 and 2 houses: all but one third of a house.
    assert late_work_bound(compiled(tasks, Resources((CREW, other)))) == 1
    in_rows = [replace(one, due=8 if one.ref < "set 2" else 30) for one in tasks]
    assert late_work_bound(compiled(in_rows, Resources((CREW, other)))) == 0


def test_houses_that_are_late_anyway_make_way_for_others(monkeypatch: pytest.MonkeyPatch) -> None:
    tasks, resources = season(16, seed=3, spread=0.1)
    tasks = [replace(one, due=10 * DAY) for one in tasks]
    put_off, _ = first_draft(compiled(tasks, resources))
    monkeypatch.setattr(work_start, "WITH_LATE", 0)
    plain, _ = first_draft(compiled(tasks, resources))
    assert len(put_off.late()) < len(plain.late())


def test_what_cannot_be_done_is_told_with_the_reason_and_the_rest_is_planned() -> None:
    resources = Resources((CREW, Resource("bender", 1, (Window(0, 5, 1),))))
    tasks = [
        task("lift", 2, ("crew", 3)),
        task("cover", 2, ("crew", 1), after=(After("lift"),)),
        task("bend", 6, ("bender", 1)),
        task("ends", 2, ("crew", 1)),
    ]
    plan = plan_work(tasks, resources)
    assert dict(plan.unplaced) == {
        "lift": (Reason(Hindrance.NEVER_ENOUGH, resources=("crew",), amount=3),),
        "cover": (Reason(Hindrance.WAITS, "lift"),),
        "bend": (Reason(Hindrance.NONE_LEFT, resources=("bender",), slots=6),),
    }
    assert {ref: str(reason) for ref, (reason,) in plan.unplaced} == {
        "lift": "There is never 3 of crew there at once.",
        "cover": "It waits for lift, which cannot be placed.",
        "bend": "bender has no 6 slots left after slot 0.",
    }
    assert places(plan) == {"ends": (0, 2)}
    assert faults(tasks, resources, plan) == []


def test_no_room_left_before_the_season_ends() -> None:
    crew = Resource("crew", 1, (Window(0, 5, 1),), travels=True)
    tasks = [task("a", 3, ("crew", 1)), task("b", 3, ("crew", 1))]
    plan = plan_work(tasks, Resources((crew,)))
    assert len(plan.placed) == 1
    assert [reasons for _, reasons in plan.unplaced] == [(Reason(Hindrance.NO_ROOM),)]
    assert not faults(tasks, Resources((crew,)), plan)


def test_a_fixed_task_that_cannot_wait_is_told_of_and_stays() -> None:
    fixed = Placed("set", 2, 4, 0)
    tasks = [task("bend", 5, ("crew", 1)), task("set", 2, ("crew", 1), after=(After("bend"),), fixed=fixed)]
    plan = plan_work(tasks, Resources((CREW,)))
    assert plan.broken == (("bend", "set"),)
    assert places(plan) == {"bend": (4, 9), "set": (2, 4)}
    assert faults(tasks, Resources((CREW,)), plan) == []
    assert faults(tasks, Resources((CREW,)), replace(plan, broken=())) != []


def test_a_fixed_task_is_waited_for_in_time() -> None:
    fixed = Placed("set", 6, 8, 0)
    tasks = [
        task("long", 5, ("crew", 1)),
        task("bend", 5, ("crew", 1)),
        task("set", 2, ("crew", 1), after=(After("bend"),), fixed=fixed),
    ]
    plan = plan_work(tasks, Resources((CREW,)))
    assert places(plan) == {"bend": (0, 5), "set": (6, 8), "long": (8, 13)}


@pytest.mark.parametrize(
    ("tasks", "resources", "reason"),
    [
        (
            [task("a", 1, after=(After("b"),)), task("b", 1, after=(After("a"),)), task("c", 1, after=(After("a"),))],
            (),
            "These tasks wait for each other in a circle: a, which waits for b, which waits for a.",
        ),
        ([task("a", 1, ("boat", 1))], (), "Task a needs boat, which is not among the resources."),
        ([task("a", -1)], (), "Task a takes -1 slots one way; give a whole number, 0 or more."),
        ([task("a", 1, ("crew", -2))], (CREW,), "Task a needs -2 of crew; give a whole number, 0 or more."),
        ([task("a", 1), task("a", 2)], (), "Task a is given twice; give it once."),
        ([task("a", 1, after=(After("z"),))], (), "Task a waits for z, which is not among the tasks."),
        ([task("a", 1, after=(After("a"),))], (), "These tasks wait for each other in a circle: a, which waits for a."),
        (
            [task("a", 1, fixed=Placed("a", 3, 2, 0))],
            (),
            "Task a is fixed from slot 3 to 2; it cannot end before it starts.",
        ),
        (
            [],
            (Resource("crew", 1, (Window(0, 5, 1), Window(4, 6, 1))),),
            "Resource crew has windows that overlap at slot 4; list them in order.",
        ),
        ([], (CREW, CREW), "Resource crew is given twice; give it once."),
    ],
)
def test_input_that_makes_no_sense_is_refused(tasks: list[Task], resources: tuple[Resource, ...], reason: str) -> None:
    with pytest.raises(WorkError) as refused:
        plan_work(tasks, Resources(resources))
    assert reason in refused.value.reasons


@cache
def watched() -> tuple[WorkPlan, list[Found]]:
    """The schedule of a season, and what was told meanwhile."""
    told: list[Found] = []
    return plan_work(*season(16, seed=2), effort=0.5, progress=told.append), told


def test_progress_is_told_and_only_grows() -> None:
    plan, told = watched()
    shares = [found.share for found in told]
    assert shares == sorted(shares) and shares[0] >= 0 and shares[-1] <= 1
    # The first are of a draft in the making, in which few houses have all their tasks placed.
    assert [found.placed for found in told][:2] == sorted(found.placed for found in told)[:2]
    assert told[0].placed < told[-1].placed == told[-1].jobs == 16
    assert told[-1].ends >= plan.makespan >= plan.bound >= told[-1].no_sooner > 0
    assert {found.moved for found in told} == {None}


def test_asked_for_the_best_so_far_it_gives_a_whole_schedule_sooner() -> None:
    """What is given then breaks no rule, and neither does its bound exceed the better schedule."""
    tasks, resources = season(16, seed=2)
    found, _ = watched()
    told: list[Found] = []

    def end(now: Found) -> bool:
        told.append(now)
        return len(told) > 2

    early = plan_work(tasks, resources, effort=0.5, progress=end)
    assert faults(tasks, resources, early) == [] and len(early.placed) == len(tasks)
    assert early.method.endswith("; ended when asked") and len(told) < 8
    assert early.bound <= found.makespan <= early.makespan
    # Nobody asking, telling changes nothing.
    assert plan_work(tasks, resources, effort=0.5) == found


SMALL_SEASON = """
from tests.planning.work_seasons import DAY, season
from farmbuild.planning.scheduling import plan_work
print(plan_work(*season(16, seed=3), effort=0.4, time_limit=600))
"""


def test_the_same_input_gives_the_same_schedule_in_every_process() -> None:
    """This one and another, each with an order of sets of its own."""
    other = subprocess.run(
        [sys.executable, "-c", SMALL_SEASON],
        cwd=ROOT,
        env=os.environ | {"PYTHONHASHSEED": "20202", "PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=True,
        text=True,
    ).stdout
    assert other == f"{plan_work(*season(16, seed=3), effort=0.4, time_limit=600)}\n"


def test_the_checker_sees_each_kind_of_fault() -> None:
    tasks, resources = season(2, seed=1)
    plan = plan_work(tasks, resources, effort=0.3)
    assert faults(tasks, resources, plan) == []
    first = plan.placed[0]
    wrongs = [
        replace(first, start=first.start + 1),
        replace(first, end=first.end + 40),
        replace(first, start=first.start - 40, end=first.end - 40),
        replace(plan.placed[1], task=first.task),
    ]
    for wrong in wrongs:
        assert faults(tasks, resources, replace(plan, placed=(wrong, *plan.placed[1:]))) != []
    assert faults(tasks, resources, replace(plan, placed=plan.placed[1:])) != []
    assert faults(tasks, resources, replace(plan, late=("House 1",))) != []
    assert faults(tasks, resources, replace(plan, makespan=plan.makespan - 1)) != []
    alone = replace(resources, resources=tuple(replace(r, capacity=0, windows=()) for r in resources.resources))
    assert faults(tasks, alone, plan) != []


def broken(tasks: list[Task], resources: Resources, starts: tuple[int, ...], **said: object) -> set[Broken]:
    """The rules that the tasks break, each in one go from where it starts."""
    placed = tuple(
        Placed(one.ref, start, start + one.ways[0].duration, 0) for one, start in zip(tasks, starts, strict=True)
    )
    end = max(place.end for place in placed)
    plan = replace(WorkPlan(placed, end, end, False), **said)  # type: ignore[arg-type]
    return {fault.rule for fault in faults(tasks, resources, plan)}


def test_the_checker_tells_what_is_off_by_one_slot_or_piece() -> None:
    shared = Resources((Resource("bender", 2),))
    assert broken([task("a", 4, ("bender", 1)), task("b", 4, ("bender", 1))], shared, (0, 3)) == set()
    both = [task("a", 4, ("bender", 1)), task("b", 4, ("bender", 2))]
    assert broken(both, shared, (0, 4)) == set()
    assert broken(both, shared, (0, 3)) == {Broken.ENOUGH}
    # 3 slots from the north to the creek, and 5 back.
    sites = Resources((CREW,), {("north", "creek"): 3, ("creek", "north"): 5})
    apart = [task("a", 4, ("crew", 2), place="north"), task("b", 2, ("crew", 2), place="creek")]
    for starts, rules in (
        ((0, 7), set()),
        ((0, 6), {Broken.JOURNEY}),
        ((7, 0), set()),
        ((6, 0), {Broken.JOURNEY}),
    ):
        assert broken(apart, sites, starts) == rules, starts
    waits = [task("a", 4, ("crew", 2)), task("b", 2, ("crew", 2), after=(After("a", 2),), release=6, due=8)]
    assert broken(waits, sites, (0, 6)) == set()
    assert broken(waits, sites, (0, 5)) == {Broken.WAIT, Broken.RELEASE}
    assert broken(waits, sites, (0, 7)) == {Broken.LATE}
    assert broken(waits, sites, (0, 7), late=("b",)) == set()
    assert broken(waits, sites, (0, 6), bound=9) == {Broken.BOUND}
    assert broken(waits, sites, (0, 6), late_bound=1) == {Broken.BOUND}
