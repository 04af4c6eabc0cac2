"""Tasks that were made of a house as it once was are told of, on its page, on the board and with the schedule."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.crew.models import Task
from farmbuild.crew.steps import services
from farmbuild.crew.steps.outdated import outdated_houses
from farmbuild.sites.outdated import outdated_of
from farmbuild.sites.services import save_house
from tests.crew.steps.conftest import FOOT
from tests.factories import OrganisationFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def given(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def house(given, build):
    house = build("12-ft-house")
    services.make_tasks(**given, house=house)
    return house


def test_a_longer_house_needs_its_tasks_again(given, house, organisation, signed_in):
    assert outdated_houses(organisation=organisation) == []
    assert outdated_of(house=house) == []
    save_house(**given, house=house, data={"length": FOOT * 60})
    house.refresh_from_db()
    assert outdated_houses(organisation=organisation) == [house]
    work = reverse("crew:house-work", args=[house.slug])
    assert [(row.name, row.url) for row in outdated_of(house=house)] == [(f"Tasks of {house.name}", work)]
    for address in (reverse("crew:board"), house.get_absolute_url()):
        page = signed_in.get(address).content.decode()
        assert "Out of date." in page and work in page
    services.make_tasks(**given, house=house)
    assert outdated_houses(organisation=organisation) == []
    assert "Out of date." not in text_of(signed_in.get(reverse("crew:board")))


def test_what_is_begun_or_done_is_as_it_was_done(given, house, organisation):
    Task.objects.filter(house=house).update(state=Task.State.DONE)
    save_house(**given, house=house, data={"length": FOOT * 60})
    assert outdated_houses(organisation=organisation) == []


def test_houses_of_others_are_not_told_of(given, house):
    save_house(**given, house=house, data={"length": FOOT * 60})
    assert outdated_houses(organisation=OrganisationFactory()) == []


def test_no_more_queries_for_many_houses(given, build, house, organisation):
    with CaptureQueriesContext(connection) as one:
        outdated_houses(organisation=organisation)
    for _ in range(3):
        services.make_tasks(**given, house=build("12-ft-house"))
    with CaptureQueriesContext(connection) as four:
        outdated_houses(organisation=organisation)
    assert len(one) == len(four) == 4
