"""A task with a length of its own: set, cleared, within bounds, and known wherever the time of a task counts."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from farmbuild.crew.daylist.calendar import person_calendar
from farmbuild.crew.feeds import make_feed
from farmbuild.crew.models import MAX_OWN_MINUTES, CalendarFeed, Task
from farmbuild.crew.schedule.comparison import compare
from farmbuild.crew.schedule.lengths import set_own_length
from farmbuild.crew.steps import services as steps
from farmbuild.orgs.acts import NotAllowed
from farmbuild.orgs.models import Membership
from tests.crew.schedule.test_services import a_season, published, worked
from tests.factories import MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def tasks(organisation, user):
    """Posts, bend and setting, published for Monday 3 and Tuesday 4 May 2027."""
    _, _, _, rows = a_season(organisation)
    published(organisation, worked(organisation, user))
    for row in rows:
        row.refresh_from_db()
    return rows


def give(task, user, minutes, seen=None):
    return set_own_length(organisation=task.organisation, user=user, task=task, minutes=minutes, seen=seen)


def placed(schedule, task):
    return next(row for row in schedule.result["placed"] if row["task"] == task.pk)


def address(task):
    return reverse("crew:task-length", args=[task.pk])


def test_the_length_that_is_there_already_is_no_conflict(user, tasks):
    give(tasks[0], user, 90)
    assert give(tasks[0], user, 90).own_minutes == 90
    with pytest.raises(ValidationError, match="Someone else changed this meanwhile"):
        give(tasks[0], user, 120)


def test_as_a_planner_would(signed_in, organisation, user, tasks):
    posts = tasks[0]
    by_rate = posts.minutes
    page = reverse("crew:task", args=[posts.pk])
    assert address(posts) in signed_in.get(page).content.decode()
    form = signed_in.get(address(posts)).context["form"]
    assert [form[name].value() for name in ("hours", "minutes", "seen")] == [None, None, None]
    answer = signed_in.post(address(posts), {"hours": "5", "minutes": "30", "seen": ""}, follow=True)
    assert "5 h 30 min, a length of its own" in text_of(answer)
    # The schedule that is followed says that it is out of date, and which task does not fit any more.
    board = text_of(signed_in.get(reverse("crew:board")))
    assert "takes 2 people and 5 h 30 min now" in board
    assert "1 task no longer fits" in board
    new = worked(organisation, user)
    begins, ends = (datetime.fromisoformat(placed(new, posts)[name]) for name in ("starts_at", "ends_at"))
    # The crew is at work from 7 to 15, so a night is 16 hours.
    nights = (ends.date() - begins.date()).days
    assert ends - begins - nights * timedelta(hours=16) == timedelta(hours=5, minutes=30)
    published(organisation, new)
    assert not compare(organisation=organisation, schedule=new)
    # Cleared, it is by the rate again, and the schedule is out of date once more.
    form = signed_in.get(address(posts)).context["form"]
    assert [form[name].value() for name in ("hours", "minutes", "seen")] == [5, 30, 330]
    signed_in.post(address(posts), {"hours": "", "minutes": "", "seen": "330"})
    posts.refresh_from_db()
    assert (posts.own_minutes, posts.planned_minutes) == (None, by_rate)
    assert any("not 2 and 5 h 30 min" in words for words in compare(organisation=organisation, schedule=new).changes)


@pytest.mark.parametrize(
    ("hours", "minutes", "field"),
    [
        ("0", "0", "hours"),
        ("0", "", "hours"),
        ("400", "1", "hours"),
        ("401", "", "hours"),
        ("-1", "", "hours"),
        ("two", "", "hours"),
        ("1.5", "", "hours"),
        ("1", "60", "minutes"),
        ("", "-5", "minutes"),
    ],
)
def test_what_cannot_be_is_said_at_the_field(signed_in, tasks, hours, minutes, field):
    answer = signed_in.post(address(tasks[0]), {"hours": hours, "minutes": minutes, "seen": ""})
    assert answer.status_code == 200
    assert list(answer.context["form"].errors) == [field]
    assert Task.objects.get(pk=tasks[0].pk).own_minutes is None


def test_the_longest_and_the_shortest_are_kept_and_nothing_past_the_services(user, tasks):
    assert give(tasks[0], user, MAX_OWN_MINUTES).own_minutes == MAX_OWN_MINUTES
    assert give(tasks[0], user, 1, seen=MAX_OWN_MINUTES).planned_minutes == 1
    for wrong in (0, MAX_OWN_MINUTES + 1):
        with pytest.raises(IntegrityError), transaction.atomic():
            Task.objects.filter(pk=tasks[0].pk).update(own_minutes=wrong)


def test_the_second_of_two_planners_is_told(signed_in, user, tasks):
    give(tasks[0], user, 360)
    answer = signed_in.post(address(tasks[0]), {"hours": "2", "minutes": "", "seen": ""})
    assert "Someone else changed this meanwhile: it is 6 h now" in text_of(answer)
    assert Task.objects.get(pk=tasks[0].pk).own_minutes == 360
    # Looked over and sent again.
    form = answer.context["form"]
    assert (form["hours"].value(), form["seen"].value()) == ("2", "360")
    signed_in.post(address(tasks[0]), {"hours": "2", "minutes": "", "seen": "360"})
    assert Task.objects.get(pk=tasks[0].pk).own_minutes == 120
    # The same length twice is one change.
    assert give(tasks[0], user, 120, seen=360).own_minutes == 120


def test_a_task_that_is_begun_done_or_kept_stays(signed_in, user, tasks):
    for state, fixed in (("started", False), ("done", False), ("open", True)):
        Task.objects.filter(pk=tasks[0].pk).update(state=state, fixed=fixed)
        with pytest.raises(ValidationError):
            give(tasks[0], user, 60)
        answer = signed_in.post(address(tasks[0]), {"hours": "1", "minutes": "", "seen": ""})
        assert answer.status_code == 200
        assert address(tasks[0]) not in signed_in.get(reverse("crew:task", args=[tasks[0].pk])).content.decode()
    assert Task.objects.get(pk=tasks[0].pk).own_minutes is None


def test_tasks_of_others_and_of_archived_houses_are_not_found(client, signed_in, user, tasks):
    stranger = MembershipFactory()
    with pytest.raises(Task.DoesNotExist):
        set_own_length(organisation=stranger.organisation, user=stranger.user, task=tasks[0], minutes=60, seen=None)
    client.force_login(stranger.user)
    assert client.post(address(tasks[0]), {"hours": "1"}).status_code == 404
    client.force_login(user)
    house = tasks[0].house
    house.archived_at = "2027-05-01T00:00:00Z"
    house.save()
    assert client.get(address(tasks[0])).status_code == 404


def test_who_only_works_in_a_crew_does_not_change_it(client, organisation, tasks):
    member = MembershipFactory(organisation=organisation, role=Membership.Role.CREW)
    with pytest.raises(NotAllowed, match="Nobody but owners and planners"):
        give(tasks[0], member.user, 60)
    client.force_login(member.user)
    page = reverse("crew:task", args=[tasks[0].pk])
    assert address(tasks[0]) not in client.get(page).content.decode()
    answer = client.post(address(tasks[0]), {"hours": "1", "minutes": "", "seen": ""})
    assert answer.status_code == 403
    assert Task.objects.get(pk=tasks[0].pk).own_minutes is None
    member.role = Membership.Role.PLANNER
    member.save()
    assert address(tasks[0]) in client.get(page).content.decode()
    assert give(tasks[0], member.user, 60).own_minutes == 60


def test_new_rates_and_counts_leave_it_and_show_once_it_is_cleared(organisation, user, tasks):
    give(tasks[0], user, 360)
    Task.objects.filter(pk=tasks[0].pk).update(count=10)
    steps.save_rates(organisation=organisation, user=user, rates={"posts": (20, 0)})
    steps.use_rates(organisation=organisation, user=user)
    row = Task.objects.get(pk=tasks[0].pk)
    # 10 at 20 minutes by two people, in quarters of an hour.
    assert (row.own_minutes, row.minutes, row.planned_minutes) == (360, 105, 360)
    steps.make_tasks(organisation=organisation, user=user, house=row.house)
    row.refresh_from_db()
    assert row.own_minutes == 360
    assert give(row, user, None, seen=360).planned_minutes == row.minutes


def test_a_new_rate_under_an_own_length_does_not_make_a_schedule_out_of_date(organisation, user, tasks):
    give(tasks[0], user, 360)
    schedule = worked(organisation, user)
    Task.objects.filter(pk=tasks[0].pk).update(minutes=17)
    assert not compare(organisation=organisation, schedule=schedule)


def test_every_place_that_says_how_long_a_task_takes_knows_it(signed_in, organisation, user, tasks):
    """Board, print of the week, phone, page of the house, page of the task, calendar."""
    posts = tasks[0]
    person = posts.crew.people.first()
    make_feed(organisation=organisation, user=user, person=person)
    Task.objects.filter(pk=posts.pk).update(count=7)
    places = {
        "board": "/crew/?week=2027-05-03",
        "week": "/crew/week/2027-05-03/",
        "phone": f"/crew/day/?person={person.slug}&day=2027-05-03",
        "task": f"/crew/tasks/{posts.pk}/",
        "house": reverse("crew:house-work", args=[posts.house.slug]),
    }
    assert [name for name, at in places.items() if "5 h 37 min" in text_of(signed_in.get(at))] == []
    give(posts, user, 337)
    assert [name for name, at in places.items() if "5 h 37 min" not in text_of(signed_in.get(at))] == []
    calendar = person_calendar(CalendarFeed.objects.get(person=person)).to_ical().decode()
    assert "5 h 37 min" in calendar


#: Who may read the minutes by the rate: the rate itself, and what is said beside a length of its own.
BY_RATE = {
    "farmbuild/crew/models/schedule.py",
    "farmbuild/crew/schedule/presenters.py",
    "farmbuild/crew/steps/presenters.py",
    "farmbuild/crew/steps/selectors.py",
    "farmbuild/crew/steps/services.py",
}


def test_nobody_else_reads_the_minutes_by_the_rate():
    """So that a new page or plan cannot forget the length of its own."""
    by_rate = re.compile(r"\b(task|row\.task|record\.task)\.minutes\b|tasks?__minutes\b")
    root = settings.BASE_DIR
    files = [*(root / "farmbuild").rglob("*.py"), *(root / "templates").rglob("*.html")]
    readers = {str(path.relative_to(root)) for path in files if by_rate.search(path.read_text(encoding="utf-8"))}
    assert readers <= BY_RATE
    assert by_rate.search("bridge.slots_of(task.minutes)") and by_rate.search("{{ row.task.minutes }}")
