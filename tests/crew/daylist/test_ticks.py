"""Presses of a day are kept once, with sensible times; pages of the day; whose rows."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.actuals import services
from farmbuild.crew.models import Actual, Kind, Task
from tests.factories import CrewFactory, HouseFactory, MembershipFactory, PersonFactory, SiteFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def a_day(organisation, *, starts=None):
    """A person, and one task of 40 posts of the person's crew, from now for an hour."""
    crew = CrewFactory(organisation=organisation)
    person = PersonFactory(crew=crew)
    starts = starts or timezone.now()
    task = Task.objects.create(
        organisation=organisation,
        house=HouseFactory(organisation=organisation, site=SiteFactory(organisation=organisation)),
        kind=Kind.POSTS,
        count=40,
        people=2,
        minutes=120,
        crew=crew,
        starts_at=starts,
        ends_at=starts + timedelta(hours=1),
    )
    return person, task


def press(person, task, what, at=None, **more):
    """Work that was not begun took an hour, unless said."""
    begun = Actual.objects.filter(task=task, person=person).running().exists()
    if what in ("stop", "done") and not begun:
        more = {"minutes": 60} | more
    given = {"key": uuid4(), "user": None, "person": person, "at": at or timezone.now()} | more
    return services.record(organisation=task.organisation, task=task, what=what, **given)


def test_start_stop_and_done_add_up(organisation):
    person, task = a_day(organisation)
    begun = timezone.now() - timedelta(hours=3)
    press(person, task, "start", begun)
    task.refresh_from_db()
    assert (task.state, task.done) == (Task.State.STARTED, 0)
    stopped = press(person, task, "stop", begun + timedelta(hours=1), done=15, people=2, problem=" One post bent. ")
    assert (stopped.started_at, stopped.stopped_at) == (begun, begun + timedelta(hours=1))
    assert (stopped.people, stopped.problem, stopped.finished) == (2, "One post bent.", False)
    press(person, task, "start", begun + timedelta(hours=2))
    rest = press(person, task, "done")
    assert (rest.done, rest.finished, rest.started_at) == (25, True, begun + timedelta(hours=2))
    task.refresh_from_db()
    assert (task.state, task.done) == (Task.State.DONE, 40)


def test_the_same_key_is_kept_once(organisation):
    person, task = a_day(organisation)
    key = uuid4()
    first = press(person, task, "stop", done=15, key=key)
    again = press(person, task, "done", done=30, key=key)
    assert again == first
    task.refresh_from_db()
    assert (Actual.objects.count(), task.done, task.state) == (1, 15, Task.State.STARTED)


@pytest.mark.django_db(transaction=True)
def test_the_same_press_sent_at_once_is_kept_once():
    person, task = a_day(MembershipFactory().organisation)
    key, gate = uuid4(), Barrier(6, timeout=30)

    def work(_):
        try:
            gate.wait()
            return press(person, task, "stop", done=15, key=key).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        kept = set(pool.map(work, range(6)))
    assert kept == {Actual.objects.get().pk}
    task.refresh_from_db()
    assert task.done == 15


def test_times_of_a_wrong_clock(organisation):
    person, task = a_day(organisation)
    before = timezone.now()
    ahead = press(person, task, "start", before + timedelta(days=2))
    assert before <= ahead.started_at <= timezone.now()
    early = press(person, task, "stop", before - timedelta(days=1))
    assert early.stopped_at == early.started_at == ahead.started_at
    with pytest.raises(ValidationError, match="clock of this device says 2001"):
        press(person, task, "start", datetime(2001, 1, 1, tzinfo=UTC))
    with pytest.raises(ValidationError, match="no time zone"):
        press(person, task, "start", datetime(2027, 1, 1))  # noqa: DTZ001
    with pytest.raises(ValidationError, match="from 0 to"):
        press(person, task, "stop", done=-1)


def test_the_list_of_the_own_day(signed_in, organisation, user):
    person, task = a_day(organisation)
    other = PersonFactory(crew=task.crew)
    assert "Choose a person" in text_of(signed_in.get("/crew/day/"))
    assert f"/crew/day/?person={person.slug}" in text_of(signed_in.get("/crew/day/"))
    person.user = user
    person.save()
    page = text_of(signed_in.get("/crew/day/"))
    assert "1 of 1 task left" in page and task.house.name in page and task.house.site.name in page
    assert other.name in page and "0 of 40 posts done" in page and "Digging and driving posts" in page
    form = {"key": str(uuid4()), "person": person.slug, "what": "done", "done": "", "people": "2", "hours": "1.5"}
    sent = signed_in.post(reverse("crew:day-tick", args=[task.pk]), form)
    assert sent["Location"] == f"/crew/day/?person={person.slug}"
    assert "All of the day is done" in text_of(signed_in.get(sent["Location"]))
    row = Actual.objects.get()
    assert (row.done, row.people, row.by, row.person) == (40, 2, user, person)


def test_large_letters_fold_the_picture_whose_own_do_not_grow(signed_in, organisation, user):
    person, _ = a_day(organisation)
    page = f"/crew/day/?person={person.slug}"
    fold = '<details class="working on-paper">\n<summary>The day drawn</summary>'
    assert fold not in signed_in.get(page).content.decode()
    user.large_letters = True
    user.save()
    html = signed_in.get(page).content.decode()
    assert fold in html and "What the buttons do" in html


def test_the_wind_is_noted_where_film_is_put_on(signed_in, organisation):
    person, task = a_day(organisation)
    address = f"/crew/day/?person={person.slug}"
    assert "<strong>Wind.</strong>" not in text_of(signed_in.get(address))
    Task.objects.filter(pk=task.pk).update(kind=Kind.FILM)
    assert "<strong>Wind.</strong>" in text_of(signed_in.get(address))


def test_presses_from_the_background_get_an_answer_each_time(signed_in, organisation):
    person, task = a_day(organisation)
    address = reverse("crew:day-tick", args=[task.pk])
    form = {"key": str(uuid4()), "person": person.slug, "what": "stop", "at": "2099-01-01T00:00:00.000Z", "done": "5"}
    form["hours"] = "2"
    json = {"headers": {"accept": "application/json"}}
    first, second = (signed_in.post(address, form, **json) for _ in range(2))
    assert first.json() == second.json() == {"key": form["key"], "kept": True}
    assert Actual.objects.count() == 1
    wrong = signed_in.post(address, form | {"key": str(uuid4()), "done": "many"}, **json)
    assert (wrong.status_code, wrong.json()["kept"]) == (422, False)
    assert "Type how many were done" in wrong.json()["problem"]
    assert signed_in.post(address, form | {"key": "none"}, **json).status_code == 422


def test_other_organisations_get_nothing(client, organisation):
    person, task = a_day(organisation)
    member = MembershipFactory()
    client.force_login(member.user)
    assert client.get("/crew/day/", {"person": person.slug}).status_code == 404
    own, _ = a_day(member.organisation)
    form = {"key": str(uuid4()), "person": own.slug, "what": "done"}
    assert client.post(reverse("crew:day-tick", args=[task.pk]), form).status_code == 404
    _, mine = a_day(member.organisation)
    address = reverse("crew:day-tick", args=[mine.pk])
    assert client.post(address, form | {"person": person.slug}).status_code == 404
    assert not Actual.objects.exists()


def test_the_worker_is_a_script_for_the_organisation_alone(signed_in, organisation):
    answer = signed_in.get("/crew/day-worker.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Service-Worker-Allowed"] == f"/of/{organisation.slug}/"
    assert "default-src 'self'" in answer["Content-Security-Policy"]


def test_unreadable_days_are_today(signed_in, organisation):
    person, _ = a_day(organisation)
    for day in ("x", "9999-12-31", "0001-01-01"):
        assert "1 of 1 task left" in text_of(signed_in.get("/crew/day/", {"person": person.slug, "day": day}))
