"""Fixtures of the plan tests."""

from __future__ import annotations

import pytest

from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from tests.plans.small_season import SmallSeason, small_season


@pytest.fixture
def season(organisation) -> SmallSeason:
    return small_season(organisation)


@pytest.fixture
def ready(season, user) -> Plan:
    """A plan of the small season, worked out."""
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


@pytest.fixture
def accepted(ready, user) -> Plan:
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)
