"""Plans and schedules that are asked for as pages do: ``python -m tests.deployment.asking PLANS SCHEDULES``.

With a third word they are not asked for: the forms that ask for them are said, as JSON (``tests.deployment.at_pages``).
"""

from __future__ import annotations

import json
import sys
from datetime import date, timedelta

import django

FIRST_DAY = date(2027, 3, 1)


def ask(plans: int, schedules: int) -> None:
    from farmbuild.crew.schedule.services import create_schedule
    from farmbuild.crew.schedule.tasks import start_once_stored as start_schedule
    from farmbuild.plans.services import create_plan
    from farmbuild.plans.tasks import start_once_stored as start_plan
    from tests.crew.schedule.test_services import NOW

    season, user = a_farm()
    for more in range(plans):
        asked = create_plan(**season.ask(user, name=f"Plan {more}", as_of=FIRST_DAY + timedelta(days=more)))
        start_plan(plan=asked.plan)
    for _ in range(schedules):
        owner = a_farm_with_work()
        start_schedule(schedule=create_schedule(organisation=owner.organisation, user=owner.user, now=NOW))


def a_farm():
    """A small season, and who plans it."""
    from tests.factories import MembershipFactory, OrganisationFactory
    from tests.plans.small_season import small_season

    farm = OrganisationFactory(invented=True)
    return small_season(farm), MembershipFactory(organisation=farm).user


def a_farm_with_work():
    """Its owner: it has tasks to put on days."""
    from tests.crew.schedule.test_services import a_season
    from tests.factories import MembershipFactory, OrganisationFactory

    farm = OrganisationFactory(invented=True)
    a_season(farm)
    return MembershipFactory(organisation=farm)


def forms(plans: int, schedules: int) -> list[dict]:
    season, user = a_farm()
    cookie, start = _signed_in(user), f"/of/{season.organisation.slug}"
    new = f"{start}/plans/new/"
    found = []
    for more in range(plans):
        typed = {
            "name": f"Plan {more}",
            "delivery_site": season.north.pk,
            "as_of": str(FIRST_DAY + timedelta(days=more)),
        }
        houses = [("houses", house.pk) for house in season.houses]
        found.append({"cookie": cookie, "page": new, "to": new, "typed": [*typed.items(), *houses]})
    every = plans // schedules if schedules else 0
    for number in range(schedules):
        owner = a_farm_with_work()
        start = f"/of/{owner.organisation.slug}/crew"
        asks = {"cookie": _signed_in(owner.user), "page": f"{start}/", "to": f"{start}/schedules/new/", "typed": []}
        # Between the plans, as they come on a day.
        found.insert(number * (every + 1), asks)
    return found


def _signed_in(user) -> str:
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(user)
    return f"{settings.SESSION_COOKIE_NAME}={client.cookies[settings.SESSION_COOKIE_NAME].value}"


if __name__ == "__main__":
    django.setup()
    numbers = [int(word) for word in sys.argv[1:3]]
    if sys.argv[3:]:
        sys.stdout.write(json.dumps(forms(*numbers)))
    else:
        ask(*numbers)
