"""Boards and film in metres for those who measure in them: counts, rates, what is recorded, and a change of units."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.crew.bridge import task_unit
from farmbuild.crew.models import Kind, Rate, Task
from farmbuild.crew.steps import services
from farmbuild.crew.steps.outdated import outdated_houses
from farmbuild.crew.steps.selectors import rates_of, spreads_of, tasks_off_rates
from farmbuild.orgs.models import Organisation
from farmbuild.orgs.services import save_organisation
from tests.crew.hours.making import a_run, approved
from tests.reading import text_of
from tests.signing_in import keeper_of_the_server

pytestmark = pytest.mark.django_db


@pytest.fixture
def given(organisation, user):
    return {"organisation": organisation, "user": user}


def measure_in(given, units: str) -> None:
    save_organisation(**given, data={"unit_system": units})
    given["organisation"].refresh_from_db()


def test_a_house_is_counted_timed_and_shown_in_metres(given, organisation, build, signed_in):
    """96 ft of board is 29.3 m. 30 x 8 + 30 person-minutes for two are 135 minutes."""
    house = build("12-ft-house")
    measure_in(given, "metric")
    services.make_tasks(**given, house=house)
    hip = Task.objects.get(house=house, kind=Kind.HIP)
    assert (hip.metric, hip.count, hip.minutes) == (True, 30, 135)
    assert task_unit(hip) == ("metre of board", "metres of board")
    for address in (
        reverse("crew:house-work", args=[house.slug]),
        reverse("crew:rates"),
        reverse("crew:task", args=[hip.pk]),
    ):
        page = text_of(signed_in.get(address))
        assert "metres of board" in page or "for each: metre of board" in page, address
        assert "feet of" not in page and "foot of" not in page, address


def test_tasks_of_before_keep_their_feet_until_they_are_made_again(given, organisation, build):
    house = build("12-ft-house")
    services.make_tasks(**given, house=house)
    hip, film = (Task.objects.get(house=house, kind=kind) for kind in (Kind.HIP, Kind.FILM))
    measure_in(given, "metric")
    # They count what the house has, in feet, so nothing is out of date; only the round rate of metres is another.
    assert outdated_houses(organisation=organisation) == []
    assert task_unit(hip)[1] == "feet of board"
    assert {task.kind for task in tasks_off_rates(organisation=organisation)} <= {Kind.HIP, Kind.BASE, Kind.FILM}
    services.make_tasks(**given, house=house)
    hip.refresh_from_db()
    assert (hip.metric, hip.count) == (True, 30)
    # One that is begun stays as it is, whatever the units.
    Task.objects.filter(pk=film.pk).update(state=Task.State.STARTED)
    measure_in(given, "imperial")
    services.make_tasks(**given, house=house)
    film.refresh_from_db()
    hip.refresh_from_db()
    assert (film.metric, hip.metric, hip.count) == (True, False, 96)


def test_own_rates_follow_the_units_there_and_back(given, organisation):
    services.save_rates(**given, rates={Kind.HIP: (Decimal("3.25"), Decimal(10)), Kind.POSTS: (Decimal(9), Decimal(5))})
    measure_in(given, "metric")
    stored = {row.kind: (row.minutes_each, row.minutes_once) for row in Rate.objects.of(organisation)}
    # 3.25 / 0.3048 = 10.6627…
    assert stored == {Kind.HIP: (Decimal("10.66"), 10), Kind.POSTS: (9, 5)}
    assert rates_of(organisation=organisation)[Kind.FILM].minutes_each == 8
    measure_in(given, "metric")
    assert Rate.objects.get(kind=Kind.HIP).minutes_each == Decimal("10.66"), "saved again, nothing changes"
    measure_in(given, "imperial")
    assert Rate.objects.get(kind=Kind.HIP).minutes_each == Decimal("3.25")


def test_whoever_runs_the_server_changes_units_with_their_rates(given, organisation, client):
    services.save_rates(**given, rates={Kind.HIP: (Decimal("3.25"), Decimal(10))})
    client.force_login(keeper_of_the_server())
    page = reverse("admin:orgs_organisation_change", args=[organisation.pk])
    form = client.get(page).context["adminform"].form
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: "" if value is None or value is False else value for name, value in sent.items()}
    sent["unit_system"] = "metric"
    sent |= {"memberships-TOTAL_FORMS": "0", "memberships-INITIAL_FORMS": "0"}
    answer = client.post(page, sent)
    assert answer.status_code == 302, answer.context["adminform"].form.errors
    assert Organisation.objects.get(pk=organisation.pk).unit_system == "metric"
    assert Rate.objects.get(kind=Kind.HIP).minutes_each == Decimal("10.66")


def test_what_was_recorded_for_feet_teaches_a_rate_for_metres(given, organisation, build):
    """60 person-minutes for 20 ft are 3 a foot, 9.84 a metre."""
    house = build("12-ft-house")
    services.make_tasks(**given, house=house)
    task = Task.objects.get(house=house, kind=Kind.HIP)
    approved(a_run(task, ends="10:30", people=2, done=20))
    assert spreads_of(organisation=organisation)[Kind.HIP].median == 3
    measure_in(given, "metric")
    assert spreads_of(organisation=organisation)[Kind.HIP].median == Decimal("9.84")
