"""Eight people who store the same thing at once, each with a connection of their own."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date, time

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.crew.models import CrewSettings, DayOff, Person, Travel, WorkHours
from farmbuild.crew.people.calendar_services import add_days_off, save_week, set_travel
from farmbuild.crew.people.services import create_person, save_settings
from farmbuild.planning.work.hours import Hours
from tests.factories import SiteFactory, WorkWeekFactory

pytestmark = pytest.mark.django_db(transaction=True)
EIGHT = 8


def all_at_once(act) -> list[str]:
    def run(number: int) -> str:
        try:
            act(number)
        except ValidationError:
            return "refused"
        else:
            return "stored"
        finally:
            connection.close()

    with ThreadPoolExecutor(EIGHT) as pool:
        return sorted(pool.map(run, range(EIGHT)))


ONCE = ["refused"] * (EIGHT - 1) + ["stored"]


def test_a_name_and_days_off_are_stored_once(organisation, user):
    given = {"organisation": organisation, "user": user}
    assert all_at_once(lambda _: create_person(**given, data={"name": "Fenn"})) == ONCE
    person = Person.objects.get()
    assert all_at_once(lambda _: add_days_off(**given, person=person, first=date(2087, 3, 8))) == ONCE
    assert DayOff.objects.count() == 1


def test_settings_journeys_and_hours_are_those_of_one_of_them(organisation, user):
    given = {"organisation": organisation, "user": user}
    sites = SiteFactory(organisation=organisation), SiteFactory(organisation=organisation)
    week = WorkWeekFactory(organisation=organisation)
    assert all_at_once(lambda n: save_settings(**given, data={"travel_minutes": n})) == ["stored"] * EIGHT
    assert CrewSettings.objects.get().travel_minutes in range(EIGHT)
    assert all_at_once(lambda n: set_travel(**given, minutes={sites: n})) == ["stored"] * EIGHT
    assert Travel.objects.get().minutes in range(EIGHT)
    hours = [[Hours(day, time(8 + n), time(16)) for day in range(7)] for n in range(EIGHT)]
    assert all_at_once(lambda n: save_week(**given, week=week, name="Week", hours=hours[n])) == ["stored"] * EIGHT
    assert WorkHours.objects.count() == 7
    assert len(set(WorkHours.objects.values_list("starts", flat=True))) == 1
