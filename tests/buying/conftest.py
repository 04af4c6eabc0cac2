"""The small season of the plan tests, worked out and accepted: its orders are written."""

from __future__ import annotations

import pytest

from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from tests.plans.conftest import ready as tried
from tests.plans.conftest import season

__all__ = ["ready", "season", "tried"]


@pytest.fixture
def ready(tried, user) -> Plan:
    return accept_plan(organisation=tried.organisation, user=user, plan=tried)
