"""Where a schedule may end: by no slot at which nobody works on a last task."""

from __future__ import annotations

from dataclasses import replace

import pytest

from farmbuild.planning.scheduling import plan_work
from farmbuild.planning.scheduling.bounds import next_end
from farmbuild.planning.scheduling.inputs import After, Need, Placed, Resource, Resources, Task, Way, Window
from farmbuild.planning.scheduling.problem import compiled
from tests.planning.work_seasons import season

MORNINGS = Resource("Morning crew", 1, (Window(8, 12, 1), Window(32, 36, 1)), travels=True)
LATE = Resource("Late crew", 1, (Window(10, 14, 1), Window(34, 38, 1)), travels=True)
RESOURCES = Resources((MORNINGS, LATE))
FIRST = Task("posts", (Way((Need("Late crew"),), 2),))
LAST = Task("film", (Way((Need("Morning crew"),), 2),), (After("posts"),))


@pytest.mark.parametrize(("slot", "end"), [(0, 9), (9, 9), (12, 12), (13, 33), (32, 33), (33, 33), (36, 36)])
def test_it_ends_while_somebody_works_who_can_do_the_last_task(slot: int, end: int) -> None:
    assert next_end(compiled([FIRST, LAST], RESOURCES), slot) == end


def test_whoever_can_do_a_last_task_counts() -> None:
    either = replace(LAST, ways=(*LAST.ways, Way((Need("Late crew"),), 3)))
    assert next_end(compiled([FIRST, either], RESOURCES), 13) == 13
    assert next_end(compiled([FIRST, either], RESOURCES), 15) == 33


def test_what_takes_no_time_or_is_fixed_ends_when_it_will() -> None:
    done = Task("handed over", (Way((), 0),), (After("film", 5),))
    assert next_end(compiled([FIRST, LAST, done], RESOURCES), 15) == 15
    fixed = replace(LAST, fixed=Placed("film", 32, 34, 0))
    assert next_end(compiled([FIRST, fixed], RESOURCES), 13) == 34


def test_after_all_days_it_stays_where_it_is() -> None:
    assert next_end(compiled([FIRST, LAST], RESOURCES), 40) == 40


def test_the_bound_of_a_season_is_a_slot_by_which_somebody_has_worked() -> None:
    tasks, resources = season(10, 5, crews=(2, 3, 4), benders=2, weeks=20, spread=0.2)
    plan = plan_work(tasks, resources, effort=0.3, time_limit=600.0)
    windows = [window for resource in resources.resources for window in resource.windows or ()]
    assert any(window.start < plan.bound <= window.end for window in windows)
    assert plan.bound <= plan.makespan
