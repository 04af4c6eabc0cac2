"""What one press means: one start a person, quantities that are there, hours where nobody pressed Start."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.actuals.selectors import at_it
from farmbuild.crew.actuals.services import record
from farmbuild.crew.models import Actual, Task
from tests.crew.daylist.test_ticks import a_day, press
from tests.factories import PersonFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def two(organisation):
    """Ann and Ben of one crew, and a task of 40 posts for two."""
    ann, task = a_day(organisation)
    ann.name = "Ann"
    ann.save()
    return ann, PersonFactory(crew=task.crew, name="Ben"), task


def rows_of(task):
    return list(task.actuals.select_related("reversed_by").order_by("pk"))


def test_start_pressed_twice_is_one_start(organisation):
    person, task = a_day(organisation)
    first = press(person, task, "start", timezone.now() - timedelta(minutes=30))
    again = press(person, task, "start")
    assert again == first and Actual.objects.count() == 1
    stopped = press(person, task, "stop", done=3)
    assert (stopped.started_at, stopped.begun) == (first.started_at, first)
    assert press(person, task, "start") != first


def test_two_people_each_have_a_run_and_a_stop_of_their_own(two):
    ann, ben, task = two
    begun = timezone.now() - timedelta(hours=3)
    press(ann, task, "start", begun, people=2)
    press(ben, task, "start", begun + timedelta(hours=1))
    state = at_it(rows_of(task), ann)
    assert [row.person for row in state.running] == [ann, ben] and state.own.person == ann
    # Ann said two, one of whom is Ben with a run of his own: the crew has two people.
    assert state.people(crew_size=2) == 2
    stopped = press(ann, task, "stop", begun + timedelta(hours=2), done=5)
    state = at_it(rows_of(task), ann)
    assert (stopped.started_at, state.own, [row.person for row in state.running]) == (begun, None, [ben])
    assert press(ben, task, "done").started_at == begun + timedelta(hours=1)


def test_nobody_is_counted_with_two_runs(two):
    ann, ben, task = two
    press(ann, task, "start", people=2)
    press(ben, task, "start")
    with pytest.raises(ValidationError) as refused:
        press(ann, task, "stop", done=5, people=2)
    assert refused.value.message_dict == {"people": ["Ben has a run of their own here. Type at most 1."]}
    press(ben, task, "stop")
    # His run went on while hers did.
    with pytest.raises(ValidationError):
        press(ann, task, "stop", done=5, people=2)
    assert press(ann, task, "stop", done=5, people=1).people == 1


def test_more_than_is_left_is_refused_in_words(organisation):
    person, task = a_day(organisation)
    Task.objects.filter(pk=task.pk).update(count=14)
    press(person, task, "start")
    with pytest.raises(ValidationError) as refused:
        press(person, task, "stop", done=140)
    assert refused.value.message_dict == {"done": ["Only 14 posts are left here; 140 is more than that."]}
    press(person, task, "stop", done=13)
    with pytest.raises(ValidationError, match="Only 1 post is left here; 2 is more than that"):
        press(person, task, "done", done=2)
    assert press(person, task, "done").done == 1


def test_done_without_a_start_asks_for_hours(organisation):
    person, task = a_day(organisation)
    for what in ("stop", "done"):
        with pytest.raises(ValidationError) as refused:
            press(person, task, what, done=4, minutes=None)
        assert "minutes" in refused.value.message_dict
    with pytest.raises(ValidationError, match="nothing to stop"):
        press(person, task, "stop", minutes=None)
    row = press(person, task, "done", minutes=150, people=2)
    assert (row.done, row.minutes, row.started_at, row.length) == (40, 150, None, timedelta(minutes=150))


def test_a_problem_is_noted_without_work(organisation):
    person, task = a_day(organisation)
    row = press(person, task, "note", problem="Post leans", done=7)
    assert (row.done, row.started_at, row.stopped_at, row.length) == (0, None, None, None)
    with pytest.raises(ValidationError, match="what is wrong"):
        press(person, task, "note")


def test_a_note_does_not_end_a_run(organisation):
    person, task = a_day(organisation)
    press(person, task, "start")
    press(person, task, "note", problem="Post leans")
    assert at_it(rows_of(task), person).own


def test_what_is_done_is_started_no_more_and_a_run_still_ends(two):
    ann, ben, task = two
    press(ann, task, "start")
    press(ben, task, "done")
    for what in ("start", "done"):
        with pytest.raises(ValidationError, match="is done already"):
            press(ben, task, what)
    with pytest.raises(ValidationError, match="All 40 posts here are done already"):
        press(ann, task, "stop", done=1)
    assert press(ann, task, "stop").stopped_at


def test_typed_hours_stand_on_the_day_of_the_list(organisation, signed_in):
    person, task = a_day(organisation)
    yesterday = timezone.localdate() - timedelta(days=1)
    form = {"key": str(uuid4()), "person": person.slug, "what": "stop", "done": "2", "hours": "1.25"}
    signed_in.post(reverse("crew:day-tick", args=[task.pk]), form | {"day": yesterday.isoformat()})
    tomorrow = yesterday + timedelta(days=2)
    form = form | {"key": str(uuid4()), "day": tomorrow.isoformat()}
    signed_in.post(reverse("crew:day-tick", args=[task.pk]), form)
    assert [(row.minutes, row.day) for row in Actual.objects.order_by("pk")] == [
        (75, yesterday),
        (75, timezone.localdate()),
    ]


def buttons(page: str) -> set[str]:
    """Of the page as a browser shows it: what stands in a template does not."""
    import re

    shown = re.sub(r"<template.*?</template>", "", page, flags=re.S)
    return {
        re.sub(r"<[^>]*>", "", found)
        for found in re.findall(r'<button name="what"[^>]*>(.*?)</button>', shown, flags=re.S)
    }


@pytest.mark.parametrize("address", ["/crew/day/?person={0.slug}", "/crew/tasks/{1.pk}/"])
def test_only_what_fits_is_shown_and_names_its_task(signed_in, organisation, user, address):
    person, task = a_day(organisation)
    person.user = user
    person.save()
    named = f"Ground posts, {task.house}"
    address = address.format(person, task)

    def shown():
        return buttons(signed_in.get(address).text) - {f"Report the problem: {named}"}

    assert shown() == {f"Start: {named}", f"Record hours: {named}", f"Done: {named}"}
    press(person, task, "start")
    assert shown() == {f"Stop: {named}", f"Done: {named}"}
    assert f"1 person at it: {person} since" in text_of(signed_in.get(address))
    press(person, task, "done")
    assert shown() == set()


def test_the_task_page_presses_and_comes_back(signed_in, organisation, user):
    person, task = a_day(organisation)
    form = {"key": str(uuid4()), "person": person.slug, "what": "start", "back": "task"}
    address = reverse("crew:day-tick", args=[task.pk])
    assert signed_in.post(address, form)["Location"] == f"/crew/tasks/{task.pk}/"
    wrong = form | {"key": str(uuid4()), "what": "stop", "done": "41"}
    assert "Only 40 posts are left here" in text_of(signed_in.post(address, wrong, follow=True))


def test_others_rows_are_refused(organisation, user):
    person, _ = a_day(organisation)
    _, theirs = a_day(PersonFactory().organisation)
    with pytest.raises(Task.DoesNotExist):
        record(
            organisation=organisation,
            user=user,
            key=uuid4(),
            task=theirs,
            person=person,
            what="start",
            at=timezone.now(),
        )


def test_since_which_day_somebody_is_at_it(organisation, signed_in):
    person, task = a_day(organisation)
    begun = timezone.now() - timedelta(days=2)
    press(person, task, "start", begun)
    page = text_of(signed_in.get(f"/crew/day/?person={person.slug}"))
    assert f"{person} since {begun:%H:%M} on {begun:%a} {begun.day} {begun:%b}." in page
