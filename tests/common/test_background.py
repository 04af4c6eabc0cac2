"""What takes longer than a page can wait is done beside the pages: whoever asks for it has an answer at once."""

from __future__ import annotations

import threading
from datetime import date

import pytest
from django.apps import apps
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.module_loading import import_string
from django_tasks import default_task_backend, task, task_backends
from django_tasks.backends.immediate import ImmediateBackend

from farmbuild.common import background
from farmbuild.common.background import BackgroundBackend, release_left_behind, worker
from farmbuild.common.long_work import Claim, LongWork, TakenOver
from farmbuild.crew.models import Schedule
from farmbuild.crew.schedule import working
from farmbuild.plans.models import Plan
from tests.factories import SiteFactory

LONG_ENOUGH = 20
gate, done = threading.Event(), []


@task()
def held_up(word: str) -> None:
    gate.wait(LONG_ENOUGH)
    done.append((word, threading.current_thread().name))


@task()
def failing() -> None:
    raise RuntimeError("as meant")


@pytest.fixture(autouse=True)
def fresh():
    gate.clear()
    done.clear()
    yield
    gate.set()
    assert worker.finish(LONG_ENOUGH)


@pytest.fixture
def beside(monkeypatch):
    """As on one machine."""
    backend = BackgroundBackend("default", {})
    monkeypatch.setattr(type(task_backends), "__getitem__", lambda self, alias: backend)
    return backend


def test_tests_have_it_done_at_once():
    assert type(task_backends["default"]) is ImmediateBackend and default_task_backend.alias == "default"


@pytest.mark.django_db(transaction=True)
def test_whoever_hands_work_over_does_not_wait_for_it(beside):
    """It begins when what it is about is stored, and what fails leaves the thread to the next."""
    held_up.enqueue("first")
    failing.enqueue()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        held_up.enqueue("never")
        raise ZeroDivisionError
    assert done == []
    gate.set()
    with transaction.atomic():
        held_up.enqueue("stored")
        assert worker.finish(LONG_ENOUGH)
        assert done == [("first", "long work")]
    assert worker.finish(LONG_ENOUGH)
    assert done == [("first", "long work"), ("stored", "long work")]


@pytest.mark.django_db(transaction=True)
def test_a_schedule_is_worked_out_while_its_page_answers(beside, monkeypatch, organisation, user):
    """Pressed twice it is worked out once, and what stops it is told on its page."""
    tried = []

    def slow(claim: Claim, *, effort: float | None) -> None:
        tried.append(claim.pk)
        gate.wait(LONG_ENOUGH)
        raise working.WorkStopped("There is no crew.")

    monkeypatch.setattr(working, "_work_out", slow)
    schedule = Schedule.objects.create(organisation=organisation, number=1, starts_at=timezone.now(), inputs={})
    client = Client()
    client.force_login(user)
    address = reverse("crew:schedule", args=[schedule.number])
    for _ in range(2):
        told = client.post(f"{address}run/", headers={"accept": "application/json"}).json()
        assert told["state"] in ("waiting", "working")
    page = client.get(address)
    assert "http-equiv" in page.content.decode() or page.context["open"]
    gate.set()
    assert worker.finish(LONG_ENOUGH)
    assert tried == [schedule.pk]
    assert client.get(f"{address}progress/").json()["state"] == "failed"
    assert "There is no crew." in client.get(address).content.decode()


@pytest.mark.django_db
def test_what_a_process_left_behind_waits_again_when_the_next_one_starts(organisation):
    """The one that was thought dead learns at its next word that another has the row."""
    site = SiteFactory(organisation=organisation)
    plan = Plan.objects.create(
        organisation=organisation, number=1, name="May", as_of=date(2027, 3, 1), delivery_site=site, inputs={}
    )
    left = Claim.of(Plan, plan.pk)
    release_left_behind()
    plan.refresh_from_db()
    assert plan.is_open_to_work
    with pytest.raises(TakenOver):
        left.note(1, 2, "Late")
    assert Claim.of(Plan, plan.pk)


def test_every_kind_of_long_work_is_taken_up_where_nobody_opens_its_page():
    every = {model for model in apps.get_models() if issubclass(model, LongWork)}
    assert background._tasks.keys() == every
    for path in background._tasks.values():
        assert import_string(path).enqueue
