"""What is charged is of today or before, of one person or crew, of one day; what was taken back is in no list."""

from __future__ import annotations

from datetime import time, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from farmbuild.costs.equipment import services as equipment
from farmbuild.costs.forms import TimeForm, TripForm
from farmbuild.costs.rates import check_past, set_equipment_rate, set_trip_rate
from farmbuild.costs.selectors import equipment_of, time_of, trips_of
from farmbuild.costs.time.services import take_back_time, type_time
from farmbuild.costs.trips import services as trips
from farmbuild.orgs.clock import today_of
from farmbuild.quotes.models import Customer, Job
from tests.costs.making import DAY, FIRST, Team
from tests.factories import BenderFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def team(organisation, user):
    return Team(organisation, user).rates()


def fields_of(call) -> set[str]:
    with pytest.raises(ValidationError) as error:
        call()
    return set(error.value.message_dict)


def test_today_is_charged_and_tomorrow_is_not(organisation):
    today = today_of(organisation=organisation)
    check_past(organisation, today)
    assert fields_of(lambda: check_past(organisation, today + timedelta(days=1))) == {"day"}


def test_a_rate_is_of_a_person_or_of_a_crew(team):
    assert fields_of(lambda: team.rate("30", person=team.ann, crew=team.crew)) == {"crew"}


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"minutes": 0}, "hours"),
        ({"minutes": 1}, ""),
        ({"minutes": 24 * 60}, ""),
        ({"minutes": 24 * 60 + 1}, "hours"),
        ({"starts": time(8)}, "ends"),
        ({"ends": time(8)}, "starts"),
        ({"starts": time(8), "ends": time(8)}, "ends"),
        ({"starts": time(8), "ends": time(9), "minutes": 61}, "hours"),
        ({"starts": time(8), "ends": time(9), "minutes": 60}, ""),
        ({"starts": time(8), "ends": time(9), "step": ""}, "what"),
    ],
)
def test_hours_of_one_day(team, given, field):
    def typed():
        return type_time(**{**team.who, "person": team.ann, "day": DAY, "house": team.house, "step": "posts"} | given)

    if field:
        assert fields_of(typed) == {field}
    else:
        assert typed()


def test_what_was_taken_back_is_in_no_list(team):
    bender = BenderFactory(organisation=team.organisation)
    set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(18), bender=bender)
    day = equipment.charge_day(**team.who, equipment=bender.as_equipment, day=DAY, house=team.house)
    hours = type_time(**team.who, person=team.ann, day=DAY, house=team.house, step="posts", minutes=60)
    set_trip_rate(**team.who, since=FIRST, each=Decimal(9))
    trip = trips.charge_trips(**team.who, site=team.house.site, day=DAY, times=1, house=team.house)

    def listed():
        asked = {"organisation": team.organisation, "houses": [team.house.pk]}
        return [len(rows(**asked)) for rows in (equipment_of, time_of, trips_of)]

    assert listed() == [1, 1, 1]
    equipment.take_back_day(**team.who, row=day, reason="Stood in the yard")
    take_back_time(**team.who, row=hours[0], reason="Typed twice")
    trips.take_back_trip(**team.who, row=trip, reason="Nobody went")
    assert listed() == [0, 0, 0]


def test_a_job_is_asked_for_where_there_is_one(organisation):
    def shown(form):
        fields = form(organisation=organisation, asked={}).fields
        return "job" in fields, fields["house"].required

    assert (shown(TimeForm), shown(TripForm)) == ((False, True), (False, False))
    customer = Customer.objects.create(organisation=organisation, name="Ana Ruiz", slug="ana-ruiz")
    Job.objects.create(organisation=organisation, customer=customer, number=1, name="Two houses")
    assert (shown(TimeForm), shown(TripForm)) == ((True, False), (True, False))
