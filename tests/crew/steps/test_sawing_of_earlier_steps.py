"""Steps from before sawing was one: those that were shipped get it, those that someone changed are left alone."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.apps import apps

from farmbuild.crew.models import StepAfter, Task, WorkTemplate
from farmbuild.crew.steps import services
from farmbuild.crew.steps.selectors import steps_of, waits_of
from tests.factories import SkillFactory

pytestmark = pytest.mark.django_db


def migrate() -> None:
    import_module("farmbuild.crew.migrations.0018_sawing").add_sawing(apps, None)


def before(template: WorkTemplate) -> WorkTemplate:
    """As it was when it was stored: positions from 1 without a gap."""
    template.steps.filter(kind="saw").delete()
    for position, step in enumerate(template.steps.order_by("position"), 1):
        template.steps.filter(pk=step.pk).update(position=position)
    return template


@pytest.fixture
def given(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def shipped(given):
    return before(services.standard_template(**given))


def test_steps_as_shipped_become_those_that_are_shipped_now(given, organisation, shipped):
    skill = SkillFactory(organisation=organisation)
    shipped.steps.filter(kind="film").update(people=6, skill=skill)
    StepAfter.objects.filter(step__template=shipped, step__kind="film").update(lag_minutes=720)
    migrate()
    now = services.standard_steps(organisation=organisation)
    assert [(step.kind, step.position) for step in steps_of(template=shipped)] == [
        (step.kind, position) for position, step in enumerate(now, 1)
    ]
    waits = {(wait.step, wait.after) for wait in waits_of(template=shipped)}
    assert waits == {(step.kind, after) for step in now for after, _ in step.waits}
    film = shipped.steps.get(kind="film")
    assert (film.people, film.skill, {after.lag_minutes for after in film.afters.all()}) == (6, skill, {720})


def test_again_changes_nothing(shipped):
    migrate()
    stored = list(shipped.steps.values_list("pk", "position"))
    migrate()
    assert list(shipped.steps.values_list("pk", "position")) == stored


@pytest.mark.parametrize("change", ["a step less", "a wait more"])
def test_steps_that_someone_changed_stay_and_say_what_is_missing(signed_in, shipped, change):
    if change == "a step less":
        shipped.steps.filter(kind="anchors").delete()
    else:
        StepAfter.objects.create(step=shipped.steps.get(kind="bend"), after=shipped.steps.get(kind="survey"))
    stored = list(shipped.steps.values_list("kind", "position"))
    migrate()
    assert list(shipped.steps.values_list("kind", "position")) == stored
    page = signed_in.get(f"/crew/steps/{shipped.slug}/").content.decode()
    assert "Not among these steps: Saw pieces" in page


def test_a_house_at_work_is_told_and_a_built_one_is_not(given, signed_in, shipped, build):
    at_work, built = build("12-ft-house"), build("20-ft-house")
    for house in (at_work, built):
        services.make_tasks(**given, house=house)
    Task.objects.filter(house=built).update(state=Task.State.DONE)
    Task.objects.filter(house=at_work, kind="survey").update(state=Task.State.DONE)
    migrate()
    assert not Task.objects.filter(kind="saw").exists()
    assert "are not up to date" in signed_in.get(f"/houses/{at_work.slug}/tasks/").content.decode()
    assert "Its tasks are up to date." in signed_in.get(f"/houses/{built.slug}/tasks/").content.decode()
    services.make_tasks(**given, house=at_work)
    saw = Task.objects.get(house=at_work, kind="saw")
    assert (saw.position, saw.state) == (2, Task.State.OPEN)


def test_own_steps_say_at_the_house_how_much_they_miss(given, signed_in, shipped, build):
    shipped.steps.filter(kind="anchors").delete()
    house = build("12-ft-house")
    services.make_tasks(**given, house=house)
    page = signed_in.get(f"/houses/{house.slug}/tasks/").content.decode()
    assert "<dt>Saw pieces</dt><dd>61 cuts</dd><dt>Anchors</dt><dd>4 anchors</dd>" in page
    assert "Its tasks are up to date." in page
