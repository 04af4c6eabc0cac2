"""Presses from before runs and approvals: which start each stop ended, what is past the day, and what counts."""

from __future__ import annotations

from importlib import import_module
from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import connection

from farmbuild.crew.hours.selectors import runs_of, to_correct_of
from farmbuild.crew.models import Actual
from farmbuild.crew.steps.selectors import spreads_of
from farmbuild.orgs.models import Organisation
from tests.crew.daylist.test_ticks import a_day
from tests.crew.hours.making import at

#: Kept databases of versions in which nobody approved hours.
BEFORE_APPROVALS = {"4414d06", "4938ab67"}


def migration(name: str):
    return import_module(f"farmbuild.crew.migrations.{name}")


@pytest.fixture
def migrate():
    """What the two migrations do with rows, while presses may be edited."""

    def run() -> None:
        with connection.cursor() as cursor:
            editor = SimpleNamespace(connection=connection, execute=lambda sql, params: cursor.execute(sql))
            migration("0012_runs_of_earlier_presses").fill(apps, editor)
            migration("0016_hours_of_earlier_runs").approve(apps, editor)

    with connection.cursor() as cursor:
        editor = SimpleNamespace(connection=connection, execute=lambda sql, params: cursor.execute(sql))
        migration("0013_presses_stay").remove_guards(apps, editor)
    return run


def old(task, person, begins=None, ends=None, **more):
    given = {"started_at": begins, "stopped_at": ends} | more
    return Actual.objects.create(organisation=task.organisation, task=task, person=person, key=uuid4(), **given)


@pytest.mark.django_db
def test_runs_within_the_day_are_approved_and_others_wait(migrate, organisation):
    person, task = a_day(organisation)
    twice = old(task, person, at("08:00"))
    start = old(task, person, at("09:00"))
    # 1 h for 10 posts.
    stop = old(task, person, at("09:00"), at("10:00"), done=10)
    late = old(task, person, at("10:00"), at("03:00", 1), people=3, done=10)
    untimed = old(task, person, None, at("11:00", 2), done=3)
    migrate()
    for row in (twice, start, stop, late, untimed):
        row.refresh_from_db()
    assert (stop.begun, stop.late, late.late, late.begun) == (start, False, True, None)
    assert (stop.crew, stop.day, untimed.day) == (task.crew, at("09:00").date(), at("11:00", 2).date())
    assert twice.reversed_by.reason == "Start was pressed again; the later one counts."
    assert not Actual.objects.running().exists()
    assert [(run.pk, run.approved) for run in runs_of(organisation=organisation)] == [(stop.pk, True), (late.pk, False)]
    assert stop.approvals.get().note == "Recorded before hours were approved, and within the crew's day."
    assert list(to_correct_of(organisation=organisation)) == [late]
    # The day of it is whole only once the late run is looked at.
    assert spreads_of(organisation=organisation) == {}


@pytest.mark.django_db
def test_a_day_that_was_worked_as_usual_still_teaches(migrate, organisation):
    person, task = a_day(organisation)
    old(task, person, at("09:00"), at("10:00"), done=10)
    old(task, person, at("10:00", 1), at("03:00", 2), done=10)
    migrate()
    assert spreads_of(organisation=organisation)["posts"].median == 6


def test_the_kept_season_has_its_runs(kept):
    for organisation in Organisation.objects.all():
        for run in runs_of(organisation=organisation):
            assert run.day == run.started_at.date()
            # Later ones had their hours approved by people, day by day.
            if kept.commit in BEFORE_APPROVALS:
                assert run.approved is not run.late
            assert run.begun.started_at == run.started_at
