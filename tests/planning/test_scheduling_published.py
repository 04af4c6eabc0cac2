"""Published projects (PSPLIB, single mode) proven to the published optimum."""

from __future__ import annotations

import time

import pytest

from farmbuild.planning.scheduling import plan_work
from farmbuild.planning.scheduling.inputs import Resources, Task
from farmbuild.planning.scheduling.verify import faults
from tests.planning.scheduling_cases import published
from tests.where import NO_OPEN_DATA

INSTANCES = published()
#: Of processor time, for each.
SECONDS = 10.0


@pytest.mark.skipif(not INSTANCES, reason=NO_OPEN_DATA)
@pytest.mark.parametrize(
    ("tasks", "resources", "optimum"), [case[1:] for case in INSTANCES], ids=[case[0] for case in INSTANCES]
)
def test_published_optimum_is_proven(tasks: list[Task], resources: Resources, optimum: int) -> None:
    began = time.process_time()
    plan = plan_work(tasks, resources)
    assert time.process_time() - began < SECONDS
    assert (plan.makespan, plan.bound, plan.optimal) == (optimum, optimum, True)
    assert faults(tasks, resources, plan) == []
