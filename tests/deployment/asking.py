"""Asks for so many plans and schedules, as pages do: ``python -m tests.deployment.asking PLANS SCHEDULES``."""

from __future__ import annotations

import sys
from datetime import date, timedelta

import django


def ask(plans: int, schedules: int) -> None:
    from farmbuild.crew.schedule.services import create_schedule
    from farmbuild.crew.schedule.tasks import start_once_stored as start_schedule
    from farmbuild.plans.services import create_plan
    from farmbuild.plans.tasks import start_once_stored as start_plan
    from tests.crew.schedule.test_services import NOW, a_season
    from tests.factories import MembershipFactory, OrganisationFactory
    from tests.plans.small_season import small_season

    farm = OrganisationFactory(invented=True)
    user = MembershipFactory(organisation=farm).user
    season = small_season(farm)
    for more in range(plans):
        asked = create_plan(**season.ask(user, name=f"Plan {more}", as_of=date(2027, 3, 1) + timedelta(days=more)))
        start_plan(plan=asked.plan)
    for _ in range(schedules):
        other = OrganisationFactory(invented=True)
        a_season(other)
        owner = MembershipFactory(organisation=other).user
        start_schedule(schedule=create_schedule(organisation=other, user=owner, now=NOW))


if __name__ == "__main__":
    django.setup()
    ask(*map(int, sys.argv[1:]))
