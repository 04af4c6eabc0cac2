"""Eight people and workers at the same plans, each with a connection of their own; on SQLite and PostgreSQL."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.db import connection

from farmbuild.buying.models import PurchaseOrder
from farmbuild.plans import bridge, services
from farmbuild.plans.models import Plan
from tests.factories import MembershipFactory
from tests.plans.small_season import AS_OF, small_season

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8


@pytest.fixture
def asker():
    """The question of a fresh organisation, with changes."""
    member = MembershipFactory()
    season = small_season(member.organisation)
    return lambda **changed: season.ask(member.user, **changed)


def at_once(work):
    """Results of ``work(n)`` in THREADS threads that start together; what they raise is raised here."""
    start = Barrier(THREADS, timeout=30)

    def alone(n):
        try:
            start.wait()
            return work(n)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


def test_numbers_have_no_gap_and_no_repeat(asker):
    """Four questions a thread; every third is refused, which must not use up a number."""

    def work(n):
        numbers = []
        for k in range(4):
            ask = asker(as_of=AS_OF + timedelta(days=10 * n + k))
            if k == 2:
                with pytest.raises(services.ValidationError):
                    services.create_plan(**(ask | {"houses": []}))
            else:
                numbers.append(services.create_plan(**ask).plan.number)
        return numbers

    found = sorted(number for numbers in at_once(work) for number in numbers)
    assert found == list(range(1, 3 * THREADS + 1))


def test_the_same_question_asked_at_once_is_one_plan(asker):
    asked = at_once(lambda _: services.create_plan(**asker()))
    assert {one.plan.pk for one in asked} == {Plan.objects.get().pk}
    assert [one.same for one in asked].count(False) == 1


def test_workers_at_once_work_it_out_once(asker, monkeypatch):
    plan = services.create_plan(**asker()).plan
    worked = []
    real = bridge.work_out

    def watched(*args, **kwargs):
        worked.append(1)
        return real(*args, **kwargs)

    monkeypatch.setattr(bridge, "work_out", watched)
    at_once(lambda _: services.work_out_plan(plan.pk))
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    assert len(worked) == 1
    assert plan.order_count == len(bridge.season_plan_of(plan).orders) == 2
    assert not PurchaseOrder.objects.exists()
