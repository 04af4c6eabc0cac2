"""Who has no crew yet is told, and gets one by a press."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.models import Crew, Person, WorkHours
from farmbuild.crew.people.first_crew import make_first_crew
from farmbuild.crew.schedule.services import create_schedule, publish_schedule
from tests.crew.schedule.test_services import a_season, worked
from tests.factories import CrewFactory, PersonFactory

pytestmark = pytest.mark.django_db
BOARD = reverse("crew:board")


def test_a_farm_of_two_gets_a_crew_by_a_press(signed_in, organisation) -> None:
    for name in ("Ada Invented", "Bea Invented"):
        PersonFactory(crew=CrewFactory(organisation=organisation, archived_at=timezone.now()), name=name)
    page = signed_in.get(BOARD).content.decode()
    assert "Add a crew first" in page and "Make one crew of everybody" in page and "Work out the schedule" not in page
    for _ in range(2):
        assert signed_in.post(reverse("crew:crew-first"), follow=True).status_code == 200
    crew = Crew.objects.get(archived_at=None)
    assert set(crew.people.values_list("name", flat=True)) == {"Ada Invented", "Bea Invented"}
    assert WorkHours.objects.filter(week=crew.week).count() == 10
    page = signed_in.get(BOARD).content.decode()
    assert "Make one crew of everybody" not in page


def test_where_nobody_is_listed_it_is_who_asks(organisation, user) -> None:
    crew = make_first_crew(organisation=organisation, user=user)
    person = Person.objects.get()
    assert (person.name, person.user, person.crew) == (user.display_name, user, crew)


def test_people_of_others_and_archived_ones_stay_where_they_are(organisation, user) -> None:
    gone = CrewFactory(organisation=organisation, archived_at=timezone.now())
    here, other = PersonFactory(crew=gone), PersonFactory()
    where = other.crew
    crew = make_first_crew(organisation=organisation, user=user)
    here.refresh_from_db()
    other.refresh_from_db()
    assert (here.crew, other.crew) == (crew, where)


def test_without_a_crew_nothing_is_planned(organisation, user) -> None:
    a_season(organisation)
    Crew.objects.update(archived_at=timezone.now())
    with pytest.raises(ValidationError, match="Add a crew first"):
        create_schedule(organisation=organisation, user=user)
    Crew.objects.update(archived_at=None)
    assert create_schedule(organisation=organisation, user=user).number == 1


def test_an_empty_schedule_is_not_published(organisation, user) -> None:
    """Nobody is in the crew, so no task gets a day."""
    a_season(organisation, people=0)
    schedule = worked(organisation, user)
    assert schedule.result["placed"] == []
    with pytest.raises(ValidationError, match="nothing to publish"):
        publish_schedule(organisation=organisation, user=None, schedule=schedule)
    schedule.refresh_from_db()
    assert schedule.published_at is None
