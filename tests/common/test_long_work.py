"""Long work is in one worker's hands, says how far it is, and is taken from a worker that falls silent.

By hand: whatever happens, a row is waiting, one worker's, done, or stopped with a reason.
"""

from __future__ import annotations

import logging
from datetime import date, timedelta

import pytest
from django.db import OperationalError
from django.db.models import QuerySet
from django.utils import timezone

from farmbuild.common.long_work import (
    MOST_BEGUN,
    SILENCE,
    AskedToEnd,
    Claim,
    LongSearch,
    LongWork,
    TakenOver,
    WorkStopped,
    end_early,
    let_go,
    listed,
    run_claimed,
    try_again,
    wait_anew,
)
from farmbuild.crew.models import Schedule
from farmbuild.plans.models import Plan
from tests.factories import SiteFactory

pytestmark = pytest.mark.django_db


def plan_of(organisation) -> Plan:
    site = SiteFactory(organisation=organisation)
    return Plan.objects.create(
        organisation=organisation, number=1, name="May", as_of=date(2027, 3, 1), delivery_site=site, inputs={}
    )


def schedule_of(organisation) -> Schedule:
    return Schedule.objects.create(organisation=organisation, number=1, starts_at=timezone.now(), inputs={})


@pytest.fixture(params=[plan_of, schedule_of], ids=["plan", "schedule"])
def row(request, organisation):
    return request.param(organisation)


def claim_of(row) -> Claim | None:
    return Claim.of(type(row), row.pk)


def fall_silent(row, by: timedelta) -> None:
    type(row).objects.filter(pk=row.pk).update(heard_from_at=timezone.now() - SILENCE - by)


def test_of_two_workers_one_gets_it(row):
    assert row.is_open_to_work
    assert claim_of(row)
    assert claim_of(row) is None
    row.refresh_from_db()
    assert row.state == "working" and row.worker and not row.is_open_to_work


def test_what_is_said_of_it_stands_on_the_row_and_counts_as_a_sign_of_life(row):
    claim = claim_of(row)
    fall_silent(row, timedelta(seconds=-10))
    claim.note(3, 7, "x" * 300)
    row.refresh_from_db()
    assert row.progress == {"state": "working", "done": 3, "total": 7, "note": "x" * 200}
    assert timezone.now() - row.heard_from_at < timedelta(minutes=1)


def test_a_worker_is_relieved_after_five_silent_minutes_and_not_before(row):
    slow = claim_of(row)
    fall_silent(row, timedelta(seconds=-10))
    row.refresh_from_db()
    assert not row.is_open_to_work and claim_of(row) is None
    fall_silent(row, timedelta(seconds=1))
    row.refresh_from_db()
    assert row.is_open_to_work
    assert claim_of(row)
    for late in (lambda: slow.note(1, 2, "Late"), lambda: slow.finish(result={"late": True})):
        with pytest.raises(TakenOver):
            late()
    slow.stop("Late")
    row.refresh_from_db()
    assert (row.state, row.result, row.problem, row.step_note) == ("working", None, "", "Starting")


def test_what_ends_its_workers_is_begun_five_times_and_then_says_so(row):
    assert row.note == "Waiting for a worker"
    for _ in range(MOST_BEGUN):
        assert claim_of(row)
        fall_silent(row, timedelta(seconds=1))
    row.refresh_from_db()
    assert (row.state, row.note) == ("working", "Taken up again: Starting")
    assert let_go(type(row)) == [row.pk]
    row.refresh_from_db()
    assert row.progress["note"] == "Waiting to be taken up again"
    assert claim_of(row) is None
    row.refresh_from_db()
    assert row.state == "failed" and "begun 5 times" in row.problem
    try_again(row)
    claim_of(row).finish(result={})
    row.refresh_from_db()
    assert (row.state, row.begun, row.note) == ("ready", 0, "")


def test_what_waits_anew_is_as_if_it_had_never_been_begun(row):
    """Every column that long work has, those of later versions too."""
    names = {field.name for kind in (LongWork, LongSearch) if isinstance(row, kind) for field in kind._meta.fields}
    fresh = {name: getattr(row, name) for name in names}
    used = {"state": "working", "steps_done": 3, "steps": 4, "begun": 2, "heard_from_at": timezone.now()}
    used |= {"step_note": "Cutting", "problem": "No steel", "worker": "a", "ends_early": True}
    assert names <= used.keys()
    type(row).objects.filter(pk=row.pk).update(**{name: used[name] for name in names})
    assert wait_anew(type(row).objects.filter(pk=row.pk)) == 1
    row.refresh_from_db()
    assert row.heard_from_at
    assert {name: getattr(row, name) for name in names - {"heard_from_at"}} == {
        name: value for name, value in fresh.items() if name != "heard_from_at"
    }


def test_what_stores_something_each_time_is_begun_for_as_long_as_it_needs(row):
    for _ in range(2 * MOST_BEGUN):
        claim_of(row).hold()
        fall_silent(row, timedelta(seconds=1))
    assert claim_of(row)


def test_what_came_out_is_stored_and_never_worked_out_again(row):
    run_claimed(type(row), row.pk, lambda claim: claim.finish(result={"a": 1}), unexpected="?")
    run_claimed(type(row), row.pk, lambda claim: claim.finish(result={"a": 2}), unexpected="?")
    try_again(row)
    row.refresh_from_db()
    assert (row.state, row.result, row.worker, row.step_note) == ("ready", {"a": 1}, "", "")


def test_a_busy_database_loses_a_note_and_not_the_work(row, monkeypatch):
    def busy(*args, **kwargs):
        raise OperationalError("database is locked")

    def work(claim):
        with monkeypatch.context() as patch:
            patch.setattr(QuerySet, "update", busy)
            claim.note(1, 2, "Lost")
        claim.finish(result={})

    run_claimed(type(row), row.pk, work, unexpected="?")
    row.refresh_from_db()
    assert (row.state, row.problem) == ("ready", "")


def test_asked_for_the_best_so_far_its_worker_learns_it(row, monkeypatch):
    claim = claim_of(row)
    monkeypatch.setattr(AskedToEnd, "SECONDS", 0)
    asked = AskedToEnd(claim)
    assert not asked()
    assert end_early(row) and end_early(row)
    assert asked() and asked()
    claim.finish(result={})
    assert not end_early(row)


def test_it_is_looked_up_once_a_second_at_most_and_a_yes_is_kept(row, django_assert_num_queries):
    asked = AskedToEnd(claim_of(row))
    with django_assert_num_queries(1):
        assert [asked(), asked(), asked()] == [False, False, False]
    end_early(row)
    asked._next = 0
    with django_assert_num_queries(1):
        assert [asked(), asked()] == [True, True]


def test_a_database_that_is_busy_then_ends_nothing(row, monkeypatch):
    asked = AskedToEnd(claim_of(row))

    def busy(*args, **kwargs):
        raise OperationalError("database is locked")

    monkeypatch.setattr(QuerySet, "exists", busy)
    assert not asked()


def test_what_stopped_is_tried_again_to_its_end(row):
    end_early(row)
    claim_of(row).stop("Broken")
    try_again(row)
    row.refresh_from_db()
    assert (row.state, row.ends_early) == ("waiting", False)


def test_what_cannot_be_done_stops_with_its_words_and_can_be_tried_again(row):
    def refuse(claim):
        claim.note(1, 2, "Half way")
        raise WorkStopped("No room.\nNo pipe.")

    run_claimed(type(row), row.pk, refuse, unexpected="?")
    row.refresh_from_db()
    assert (row.state, row.problem, row.worker, row.result) == ("failed", "No room.\nNo pipe.", "", None)
    assert claim_of(row) is None
    try_again(row)
    row.refresh_from_db()
    assert (row.state, row.problem, row.steps_done, row.step_note) == ("waiting", "", 0, "")
    assert claim_of(row)


def test_a_fault_is_logged_whole_and_the_reader_gets_the_plain_sentence(row, caplog):
    def fault(claim):
        raise RuntimeError("disk on fire")

    with caplog.at_level(logging.ERROR):
        run_claimed(type(row), row.pk, fault, unexpected="It did not work. Try again.")
    row.refresh_from_db()
    assert (row.state, row.problem) == ("failed", "It did not work. Try again.")
    assert "disk on fire" in caplog.text


def test_a_relieved_worker_ends_without_a_fault(row, caplog):
    def slow(claim):
        fall_silent(row, timedelta(seconds=1))
        run_claimed(type(row), row.pk, lambda second: second.finish(result={"by": "second"}), unexpected="?")
        claim.finish(result={"by": "first"})

    run_claimed(type(row), row.pk, slow, unexpected="It did not work.")
    row.refresh_from_db()
    assert (row.state, row.result, row.problem) == ("ready", {"by": "second"}, "")
    assert "taken over" in caplog.text


@pytest.mark.parametrize(
    ("count", "last"),
    [
        (20, "Reason 20."),
        (21, "There is 1 more reason like these."),
        (25, "There are 5 more reasons like these."),
    ],
)
def test_twenty_reasons_are_listed_and_the_others_counted(count, last):
    lines = listed([f"Reason {n}." for n in range(1, count + 1)]).splitlines()
    assert len(lines) == min(count, 21)
    assert (lines[0], lines[-1]) == ("Reason 1.", last)
