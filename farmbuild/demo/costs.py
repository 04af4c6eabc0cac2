"""Invented pay rates and prices, and what was charged by them so far."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.costs.equipment.proposals import proposed_days
from farmbuild.costs.equipment.services import charge_proposed as charge_days
from farmbuild.costs.rates import set_equipment_rate, set_pay_rate, set_trip_rate
from farmbuild.costs.time.approved import approved_hours, not_in_money_of
from farmbuild.costs.time.services import name_people
from farmbuild.costs.trips.proposals import proposed_trips
from farmbuild.costs.trips.services import charge_proposed as charge_trips
from farmbuild.crew.people.selectors import people_of
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.models import Organisation, User


def enter_prices(organisation: Organisation, user: User, rows: Mapping[str, Any], since: date) -> None:
    """What an hour, a day of a bender and a trip cost from then on."""
    who = {"organisation": organisation, "user": user, "since": since}
    set_pay_rate(**who, an_hour=Decimal(rows["everybody"]))
    for person in people_of(organisation=organisation).filter(name__in=rows["people"]):
        set_pay_rate(**who, person=person, an_hour=Decimal(rows["people"][person.name]))
    for bender in benders_of(organisation=organisation):
        set_equipment_rate(**who, bender=bender, a_day=Decimal(rows["bender_day"]))
    set_trip_rate(**who, each=Decimal(rows["trip"]))


def charge(organisation: Organisation, user: User, rows: Mapping[str, Any]) -> None:
    """People are named at all but the last approved hours, and all but the last proposals are recorded."""
    who = {"organisation": organisation, "user": user}
    for approval in [*not_in_money_of(organisation=organisation)][: -rows["left"]]:
        [hours] = approved_hours(organisation=organisation, approvals=[approval])
        name_people(**who, approval=approval, people=hours.guess)
    for proposed, record in ((proposed_days, charge_days), (proposed_trips, charge_trips)):
        seen = [one.token for one in proposed(organisation=organisation)][: -rows["left"]]
        if seen:
            record(**who, seen=seen)
