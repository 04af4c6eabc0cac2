"""The week, schedules and tasks as pages; whose rows."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from farmbuild.crew.models import Schedule, Task
from tests.crew.schedule.test_services import a_season, published, worked
from tests.factories import CrewFactory, MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def main_buttons(page: str) -> list[str]:
    return re.findall(r'<(?:a|button) class="action"[^>]*>(.*?)</(?:a|button)>', page)


def test_from_the_board_to_a_published_week(signed_in, organisation, user):
    _, _, house, tasks = a_season(organisation)
    board = text_of(signed_in.get("/crew/"))
    assert "3 tasks to do, none planned" in board and "Work out the schedule" in board
    address = signed_in.post(reverse("crew:schedule-new"))["Location"]
    assert address == "/crew/schedules/1/"
    assert "data-run-url" in text_of(signed_in.get(address))
    told = signed_in.post(address + "run/", headers={"accept": "application/json"}).json()
    assert told["state"] == "ready"
    assert signed_in.get(address + "progress/").json()["state"] == "ready"
    page = text_of(signed_in.get(address))
    assert "3 tasks placed" in page and "Publish it" in page
    assert "Each house" in page and "on the day" in page
    assert signed_in.post(address + "publish/")["Location"] == "/crew/"
    assert Task.objects.exclude(starts_at=None).count() == 3
    board = text_of(signed_in.get("/crew/"))
    assert "<svg" in board and house.name in board and "0 of 3" in board
    # What comes next is the work; nothing has changed that a schedule would have to be worked out for.
    assert main_buttons(board) == ["See my day"]
    Task.objects.update(not_before=date(2027, 6, 1))
    assert main_buttons(text_of(signed_in.get("/crew/"))) == ["Work out again"]
    Task.objects.update(not_before=None)
    assert "published already" in text_of(signed_in.post(address + "publish/", follow=True))
    task = Task.objects.get(pk=tasks[0].pk)
    assert f"/crew/tasks/{task.pk}/" in board
    sheet = text_of(signed_in.get(f"/crew/week/{task.starts_at:%Y-%m-%d}/"))
    assert "Who is in which crew" in sheet and task.crew.people.first().name in sheet


def test_a_task_is_fixed_and_let_go(signed_in, organisation, user):
    _, _, _, tasks = a_season(organisation)
    page = reverse("crew:task", args=[tasks[0].pk])
    assert "no place yet" in text_of(signed_in.post(page + "fix/", {"fixed": "1"}, follow=True))
    published(organisation, worked(organisation, user))
    assert "starts on Monday 3 May 2027 at" in text_of(signed_in.get(page))
    signed_in.post(page + "fix/", {"fixed": "1"})
    assert Task.objects.get(pk=tasks[0].pk).fixed
    signed_in.post(page + "fix/", {"fixed": "0"})
    assert not Task.objects.get(pk=tasks[0].pk).fixed


def test_a_stopped_schedule_says_why_and_is_tried_again(signed_in, organisation, user):
    a_season(organisation)
    schedule = worked(organisation, user)
    Schedule.objects.filter(pk=schedule.pk).update(state="failed", problem="The tasks wait in a circle.")
    assert "wait in a circle" in text_of(signed_in.get("/crew/schedules/1/"))
    signed_in.post("/crew/schedules/1/retry/")
    assert "will be worked out now" in text_of(signed_in.get("/crew/schedules/1/"))


def test_a_task_on_days_that_nobody_works_any_more_still_stands_on_the_board(signed_in, organisation, user):
    """Saturday 8 May 2027; the crews of the season work from Monday to Friday."""
    crew, _, _, tasks = a_season(organisation)
    starts = datetime(2027, 5, 8, 14, tzinfo=UTC)
    Task.objects.filter(pk=tasks[0].pk).update(crew=crew, starts_at=starts, ends_at=starts + timedelta(hours=2))
    for address in ("/crew/?week=2027-05-08", "/crew/week/2027-05-08/"):
        page = text_of(signed_in.get(address))
        assert "Saturday 8 May" in page and tasks[0].get_kind_display() in page
    # An hour of the night, on a day that is worked.
    night = datetime(2027, 5, 7, 3, tzinfo=UTC)
    Task.objects.filter(pk=tasks[0].pk).update(starts_at=night, ends_at=night + timedelta(hours=1))
    assert tasks[0].get_kind_display() in text_of(signed_in.get("/crew/week/2027-05-07/"))
    Task.objects.filter(pk=tasks[0].pk).update(starts_at=starts - timedelta(days=1), ends_at=starts)
    assert f"{crew}, Saturday 8 May" not in text_of(signed_in.get("/crew/week/2027-05-08/"))


def test_empty_and_unreadable_weeks(signed_in, organisation):
    assert "Add a crew first" in text_of(signed_in.get("/crew/"))
    CrewFactory(organisation=organisation)
    board = text_of(signed_in.get("/crew/"))
    assert "no work to plan yet" in board
    # What the first step is done on is a press away.
    assert re.search(r'class="action" href="[^"]*/houses/">See the houses<', board)
    assert "no work to plan" in text_of(signed_in.post(reverse("crew:schedule-new"), follow=True))
    assert signed_in.get("/crew/?week=nonsense").status_code == 200
    assert [signed_in.get(f"/crew/week/{day}/").status_code for day in ("9999-12-31", "soon", "0001-01-01")] == [
        404
    ] * 3
    assert "Each schedule that was worked out" in text_of(signed_in.get("/crew/schedules/"))


def test_other_organisations_see_and_change_nothing(client, organisation, user):
    _, _, house, tasks = a_season(organisation)
    schedule = worked(organisation, user)
    client.force_login(MembershipFactory().user)
    for address in ("/crew/schedules/1/", "/crew/schedules/1/progress/", f"/crew/tasks/{tasks[0].pk}/"):
        assert client.get(address).status_code == 404, address
    for address in ("run", "retry", "publish"):
        assert client.post(f"/crew/schedules/1/{address}/").status_code == 404, address
    assert client.post(f"/crew/tasks/{tasks[0].pk}/fix/", {"fixed": "1"}).status_code == 404
    for address in ("/crew/", "/crew/?week=2027-05-03", "/crew/week/2027-05-03/"):
        assert house.name not in client.get(address).content.decode()
    schedule.refresh_from_db()
    assert schedule.published_at is None


def drawn_work(page: str) -> list[tuple[float, float]]:
    figure = page[page.index('class="season"') : page.index("</figure>")]
    return [(float(a), float(b)) for a, b in re.findall(r'class="work" x1="([\d.]+)%" y1="64%" x2="([\d.]+)%"', figure)]


def test_each_schedule_draws_its_own_days_and_the_crew_those_that_hold(signed_in, organisation, user):
    """One is published after the other; the second begins two weeks later."""
    _, _, house, _ = a_season(organisation)
    published(organisation, worked(organisation, user))
    first = drawn_work(signed_in.get("/crew/schedules/1/").content.decode())
    Task.objects.filter(organisation=organisation).update(not_before=date(2027, 5, 17))
    published(organisation, worked(organisation, user, now=datetime(2027, 5, 3, 6, tzinfo=UTC)))
    page = signed_in.get("/crew/schedules/1/").content.decode()
    again, then = drawn_work(page), drawn_work(signed_in.get("/crew/schedules/2/").content.decode())
    assert first and again == first != then
    assert "Work 3 May 2027" in page and "Work 17 May 2027" in signed_in.get("/crew/schedules/2/").content.decode()
    board = signed_in.get("/crew/").content.decode()
    assert drawn_work(board) == then and f'href="/houses/{house.slug}/"' in board
    assert "1 house, 1 late;" in text_of(signed_in.get("/crew/schedules/2/"))


def test_the_line_comes_before_the_table_and_is_hidden_from_others(client, signed_in, organisation, user):
    _, _, house, _ = a_season(organisation)
    published(organisation, worked(organisation, user))
    page = signed_in.get("/crew/schedules/1/").content.decode()
    assert page.index('class="season"') < page.index("<table") and 'role="img"' in page
    assert "To stand by 4 May 2027" in page
    client.force_login(MembershipFactory().user)
    assert client.get("/crew/schedules/1/").status_code == 404
    assert house.name not in client.get("/crew/").content.decode()
