"""What has to be done for the invented houses."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from farmbuild.crew.steps.services import plan_house, standard_template
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House

#: From the day on which the materials are needed to the day on which the house should stand.
BUILDING = timedelta(weeks=3)


def enter_work(organisation: Organisation, user: User, houses: Iterable[House]) -> None:
    given: dict[str, Any] = {"organisation": organisation, "user": user}
    template = standard_template(**given)
    for house in houses:
        plan_house(**given, house=house, template=template, due=house.need_date + BUILDING)
