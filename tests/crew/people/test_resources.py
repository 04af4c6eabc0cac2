"""What the planner gets: head-counts by window, journeys in slots, by the organisation's zone and rows alone."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.crew.models import Travel
from farmbuild.crew.people.calendar_services import add_days_off, save_week, set_travel
from farmbuild.crew.people.selectors import crew_resources, travel_else, travel_of
from farmbuild.crew.people.services import archive_crew, archive_person, create_person, save_settings
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.services import save_organisation
from farmbuild.planning.work.hours import Hours
from tests.factories import (
    CrewFactory,
    DayOffFactory,
    OrganisationFactory,
    PersonFactory,
    SiteFactory,
    SkillFactory,
    WorkWeekFactory,
)

pytestmark = pytest.mark.django_db
MONDAY = datetime(2027, 5, 3, tzinfo=UTC)


@pytest.fixture
def crew(organisation):
    week = WorkWeekFactory(organisation=organisation, hours=[(day, time(8), time(12)) for day in range(5)])
    return CrewFactory(organisation=organisation, week=week)


def windows_of(organisation, start=MONDAY, days=3):
    found = crew_resources(organisation=organisation, start=start, days=days)
    return {row.ref: [(w.start, w.end, w.capacity) for w in row.windows] for row in found}


def test_a_crew_is_as_many_as_are_not_off(organisation, crew):
    one, _ = PersonFactory(crew=crew), PersonFactory(crew=crew)
    PersonFactory(crew=crew, archived_at=MONDAY)
    DayOffFactory(organisation=organisation, person=one, first=date(2027, 5, 1), last=date(2027, 5, 3))
    DayOffFactory(organisation=organisation, first=date(2027, 5, 5))
    (resource,) = crew_resources(organisation=organisation, start=MONDAY, days=4)
    assert (resource.ref, resource.capacity, resource.travels) == (f"crew-{crew.pk}", 2, True)
    # 08:00 is slot 32 of each day of 96; alone on Monday, nobody on Wednesday.
    assert [(w.start, w.end, w.capacity) for w in resource.windows] == [(32, 48, 1), (128, 144, 2), (320, 336, 2)]


def test_another_zone_shifts_the_windows(organisation, crew):
    PersonFactory(crew=crew)
    first = windows_of(organisation, days=1)[f"crew-{crew.pk}"]
    assert first == [(32, 48, 1)]
    # In May: Vienna is 2 h ahead of UTC, Kathmandu 5 h 45 min, New York 4 h behind (IANA database).
    for zone, slots in {"Europe/Vienna": -8, "Asia/Kathmandu": -23}.items():
        organisation.time_zone = zone
        assert zone_of(organisation=organisation).key == zone
        assert windows_of(organisation, days=1)[f"crew-{crew.pk}"] == [(32 + slots, 48 + slots, 1)]
    organisation.time_zone = "America/New_York"
    # Sunday there when the plan starts.
    assert windows_of(organisation, days=2)[f"crew-{crew.pk}"] == [(48, 64, 1)]


def test_a_zone_that_is_none_is_told_at_its_field(organisation, user):
    with pytest.raises(ValidationError, match="Mars/Olympus is not a time zone") as refused:
        save_organisation(organisation=organisation, user=user, data={"time_zone": "Mars/Olympus"})
    assert set(refused.value.message_dict) == {"time_zone"}


def test_archived_crews_are_left_out_and_empty_ones_have_nobody(organisation, user, crew):
    person = PersonFactory(crew=crew)
    archive_person(organisation=organisation, user=user, person=person)
    assert windows_of(organisation) == {f"crew-{crew.pk}": []}
    archive_crew(organisation=organisation, user=user, crew=crew)
    assert windows_of(organisation) == {}


def test_other_organisations_count_for_nothing(organisation, crew):
    PersonFactory(crew=crew)
    elsewhere = PersonFactory()
    DayOffFactory(organisation=elsewhere.organisation, first=date(2027, 5, 3), last=date(2027, 5, 9))
    assert windows_of(organisation, days=1) == {f"crew-{crew.pk}": [(32, 48, 1)]}
    assert list(windows_of(elsewhere.organisation)) == [f"crew-{elsewhere.crew.pk}"]


def test_crews_cost_the_same_reads_however_many(organisation):
    def reads() -> int:
        with CaptureQueriesContext(connection) as asked:
            windows_of(organisation)
        return len(asked)

    PersonFactory(crew=CrewFactory(organisation=organisation))
    few = reads()
    for _ in range(10):
        DayOffFactory(
            organisation=organisation,
            person=PersonFactory(crew=CrewFactory(organisation=organisation)),
        )
    assert reads() == few


def test_journeys_are_whole_slots_both_ways_once(organisation, user):
    one, other, third = (SiteFactory(organisation=organisation) for _ in range(3))
    set_travel(organisation=organisation, user=user, minutes={(other, one): 20, (one, third): None})
    row = Travel.objects.get()
    assert (row.one, row.other) == (one, other)
    assert travel_of(organisation=organisation) == {(one.slug, other.slug): 2}
    assert travel_of(organisation=OrganisationFactory()) == {}
    assert travel_else(organisation=organisation) == 2  # 30 min until someone says otherwise
    save_settings(organisation=organisation, user=user, data={"travel_minutes": 46})
    assert travel_else(organisation=organisation) == 4


def test_services_refuse_rows_of_another_organisation(organisation, user, crew):
    given = {"organisation": organisation, "user": user}
    stranger = PersonFactory()
    with pytest.raises(ValidationError):
        create_person(**given, data={"name": "One", "crew": stranger.crew})
    with pytest.raises(ValidationError):
        create_person(**given, data={"name": "One", "skills": [SkillFactory()]})
    with pytest.raises(ValidationError):
        add_days_off(**given, person=stranger, first=date(2027, 5, 3))
    with pytest.raises(ValidationError):
        set_travel(**given, minutes={(SiteFactory(organisation=organisation), SiteFactory()): 5})
    assert not Travel.objects.exists()


def test_hours_that_break_a_rule_are_not_stored_by_the_service_either(organisation, user, crew):
    given = {"organisation": organisation, "user": user}
    kept = list(crew.week.hours.values_list("pk", flat=True))
    for hours in (
        [],
        [Hours(0, time(8), time(8))],
        [Hours(0, time(8, 1), time(9))],
        [Hours(0, time(8), time(12)), Hours(0, time(11), time(13))],
    ):
        with pytest.raises(ValidationError):
            save_week(**given, week=crew.week, name="Other", hours=hours)
    assert list(crew.week.hours.values_list("pk", flat=True)) == kept
