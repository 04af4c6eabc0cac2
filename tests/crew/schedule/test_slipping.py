"""Work that slips: said on the page of the task, told on the week, planned again, and published with what moves."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.schedule import delays, services
from tests.crew.schedule.test_pages import text_of
from tests.crew.schedule.test_services import NOW, a_season, published, worked

pytestmark = pytest.mark.django_db


@pytest.fixture
def tasks(organisation, user):
    """Posts, bend and setting, published for Monday 3 and Tuesday 4 May 2027; setting starts on Tuesday at 9:00."""
    _, _, _, rows = a_season(organisation)
    published(organisation, worked(organisation, user))
    for row in rows:
        row.refresh_from_db()
    return rows


def slip(organisation, user, task, day):
    return delays.set_not_before(organisation=organisation, user=user, task=task, day=day)


def test_as_a_user_would(signed_in, organisation, user, tasks):
    setting = tasks[2]
    page = reverse("crew:task", args=[setting.pk])
    assert f"{page}slip/" in text_of(signed_in.get(page))
    assert "Planned for Tuesday 4 May 2027, 09:00" in text_of(signed_in.get(f"{page}slip/"))
    answer = signed_in.post(f"{page}slip/", {"day": "2027-05-06"}, follow=True)
    board = text_of(answer)
    assert answer.redirect_chain[-1][0] == reverse("crew:board")
    assert "Set and spring in of" in board and "starts on 6 May 2027 at the earliest." in board
    assert "1 task no longer fits" in board and "Work out again" in board
    assert "Earliest start: 6 May 2027" in text_of(signed_in.get(page))
    new = worked(organisation, user)
    assert new.result["moves"] == [
        {
            "task": setting.pk,
            "crew": setting.crew_id,
            "bender": None,
            "starts_at": "2027-05-04T09:00:00+00:00",
            "ends_at": "2027-05-04T11:00:00+00:00",
        }
    ]
    sheet = text_of(signed_in.get(reverse("crew:schedule", args=[new.number])))
    assert "1 task stood elsewhere" in sheet and "Publish it for everybody" in sheet
    assert f"Tue 4 May, 09:00, {setting.crew}" in sheet and f"Thu 6 May, 07:00, {setting.crew}" in sheet
    assert "2 days later" in sheet
    assert published(organisation, new) == 1
    setting.refresh_from_db()
    assert setting.starts_at == datetime(2027, 5, 6, 7, tzinfo=UTC)
    sheet = text_of(signed_in.get(reverse("crew:schedule", args=[new.number])))
    assert "Tue 4 May, 09:00" in sheet and "2 days later" in sheet
    assert "no longer fit" not in text_of(signed_in.get(reverse("crew:board")))


def test_an_empty_day_lets_it_start_any_day(signed_in, organisation, user, tasks):
    slip(organisation, user, tasks[2], date(2027, 5, 6))
    signed_in.post(reverse("crew:task-slip", args=[tasks[2].pk]), {"day": ""})
    assert Task.objects.get(pk=tasks[2].pk).not_before is None


def test_work_that_takes_longer_moves_what_waits_for_it(signed_in, organisation, user, tasks):
    """The first task of Monday runs on until Wednesday noon; the crew has no other hands."""
    first, second = sorted(tasks[:2], key=lambda task: task.starts_at)
    Task.objects.filter(pk=first.pk).update(state=Task.State.STARTED)
    page = reverse("crew:task", args=[first.pk])
    assert "It takes longer" in text_of(signed_in.get(page))
    board = text_of(signed_in.post(f"{page}slip/", {"day": "2027-05-05", "clock": "11:50"}, follow=True))
    first.refresh_from_db()
    assert first.ends_at == datetime(2027, 5, 5, 12, tzinfo=UTC)
    assert "2 tasks no longer fit" in board and "cannot be in time for" in board
    new = worked(organisation, user, now=first.starts_at + timedelta(minutes=15))
    assert {row["task"] for row in new.result["moves"]} == {second.pk, tasks[2].pk}
    published(organisation, new)
    second.refresh_from_db()
    assert second.starts_at >= datetime(2027, 5, 5, 12, tzinfo=UTC)
    assert "no longer fit" not in text_of(signed_in.get(reverse("crew:board")))


def test_what_was_to_begin_and_has_not_is_told_to_move(organisation, user, tasks):
    """Asked for again on Monday afternoon, the task that nobody has begun stood in the past and is listed too."""
    first = min(tasks[:2], key=lambda task: task.starts_at)
    new = worked(organisation, user, now=datetime(2027, 5, 3, 13, tzinfo=UTC))
    assert first.pk in {row["task"] for row in new.result["moves"]}


def test_refusals_at_their_fields(signed_in, organisation, user, tasks):
    address = reverse("crew:task-slip", args=[tasks[2].pk])
    assert "This day is over." in text_of(signed_in.post(address, {"day": "2001-01-01"}))
    assert "Type a day that the calendar has" in text_of(signed_in.post(address, {"day": "soon"}))
    services.set_fixed(organisation=organisation, user=None, task=tasks[2], fixed=True)
    assert "kept on its day and time" in text_of(signed_in.post(address, {"day": "2027-05-06"}))
    services.set_fixed(organisation=organisation, user=None, task=tasks[2], fixed=False)
    with pytest.raises(ValidationError, match="has begun and has a place"):
        delays.set_end(organisation=organisation, user=user, task=tasks[2], ends_at=timezone.now())
    Task.objects.filter(pk=tasks[2].pk).update(state=Task.State.STARTED)
    answer = text_of(signed_in.post(address, {"day": "2001-01-01", "clock": "noon"}))
    assert "Type the time by the clock" in answer
    assert "This time is over." in text_of(signed_in.post(address, {"day": "2001-01-01", "clock": "12:00"}))
    with pytest.raises(ValidationError, match="has begun"):
        slip(organisation, user, tasks[2], None)
    tasks[2].refresh_from_db()
    assert (tasks[2].not_before, tasks[2].ends_at) == (None, datetime(2027, 5, 4, 11, tzinfo=UTC))


def test_a_fixed_task_that_is_over_is_published_anew(organisation, user, tasks):
    services.set_fixed(organisation=organisation, user=None, task=tasks[2], fixed=True)
    new = worked(organisation, user, now=NOW + timedelta(days=7))
    published(organisation, new)
    tasks[2].refresh_from_db()
    assert tasks[2].starts_at > new.starts_at and Schedule.objects.count() == 2


def test_work_begun_before_its_time_ends_after_that_time(organisation, user, tasks):
    """It stands in the schedule for later; an end before it begins there is none."""
    task, now = tasks[2], timezone.now()
    Task.objects.filter(pk=task.pk).update(
        state=Task.State.STARTED, starts_at=now + timedelta(days=2), ends_at=now + timedelta(days=3)
    )
    with pytest.raises(ValidationError, match="This time is over"):
        delays.set_end(organisation=organisation, user=user, task=task, ends_at=now + timedelta(days=1))
