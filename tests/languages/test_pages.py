"""No word of a page of the crew escapes translation: every text that is put into a language is marked here, all that
people typed is in Greek letters, and so a Latin word outside of the marks is one that nobody can translate."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.actuals import services
from farmbuild.crew.models import Kind, Task
from tests.factories import CrewFactory, HouseFactory, PersonFactory, SiteFactory
from tests.languages.marks import marked, words_outside

pytestmark = pytest.mark.django_db


@pytest.fixture
def _marked():
    with marked():
        yield


@pytest.fixture
def a_day(organisation, user):
    """A person at work, a press that was taken back, and a problem, all with Greek names."""
    organisation.name = "Αγρόκτημα"
    organisation.save()
    user.first_name = user.username = "Ιδα"
    user.save()
    crew = CrewFactory(organisation=organisation, name="Ομάδα")
    person = PersonFactory(crew=crew, name="Νίκος", user=user)
    site = SiteFactory(organisation=organisation, name="Χωράφι")
    now = timezone.now()
    task = Task.objects.create(
        organisation=organisation,
        house=HouseFactory(organisation=organisation, site=site, name="Σπίτι"),
        kind=Kind.POSTS,
        count=40,
        people=2,
        minutes=120,
        crew=crew,
        starts_at=now,
        ends_at=now + timedelta(hours=1),
    )
    given = {"organisation": organisation, "user": user, "task": task, "person": person}
    services.record(**given, what="start", key=uuid4(), at=now - timedelta(minutes=30))
    problem = services.record(**given, what="note", key=uuid4(), at=now, problem="Στραβό")
    return person, task, problem


def test_no_word_of_the_pages_of_a_crew_escapes(signed_in, a_day, _marked):
    person, task, problem = a_day
    escaped = {}
    for path in (
        f"{reverse('crew:day')}?person={person.slug}",
        f"{reverse('crew:day')}?who",
        reverse("crew:task", args=[task.pk]),
        reverse("crew:problem", args=[problem.pk]),
        reverse("crew:problems"),
        reverse("crew:kept"),
        reverse("access:name"),
        reverse("stock:labels"),
    ):
        answer = signed_in.get(path)
        assert answer.status_code == 200, path
        if words := words_outside(answer.content.decode()):
            escaped[path] = words
    assert escaped == {}


def test_a_word_that_nobody_marked_is_found():
    page = '<p title="Read">⟦Leído ⟦dos⟧⟧ <b>kept</b> Σπίτι 2 h 15 min</p>'
    assert words_outside(page) == ["Read", "kept"]
