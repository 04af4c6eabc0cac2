"""Why a task has no place, in the words of whoever plans: names, hours and days, never references or slots."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from farmbuild.crew.bridge import Hindrance, Reason
from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.schedule.sentences import Names
from tests.crew.schedule.test_services import NOW, a_season, worked

pytestmark = pytest.mark.django_db


@pytest.fixture
def season(organisation):
    return a_season(organisation)


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        (Reason(Hindrance.NO_WAY), "Nobody is there who may do it."),
        (Reason(Hindrance.NEVER_ENOUGH, "", ("crew",), 3), "Crew A never has 3 people there at once."),
        (Reason(Hindrance.NEVER_ENOUGH, "", ("bender",), 1), "Rail bender is never there."),
        (
            Reason(Hindrance.NEVER_TOGETHER, "", ("crew", "bender")),
            "Crew A and Rail bender are never there at the same time.",
        ),
        # A slot is a quarter of an hour: 33 of them are 8 h 15 min.
        (Reason(Hindrance.NEVER_SO_LONG, "", ("crew",), 0, 33), "Crew A never has 8 h 15 min without a break."),
        (
            Reason(Hindrance.NEVER_SO_LONG, "", ("crew", "bender"), 0, 33),
            "Crew A and Rail bender never have 8 h 15 min without a break.",
        ),
        # 5:15 and 23 quarters are 11:00.
        (
            Reason(Hindrance.NONE_LEFT, "", ("bender",), 0, 24, 23),
            "Rail bender has no 6 h left from Monday 3 May, 11:00 on.",
        ),
        (Reason(Hindrance.NOBODY_BY_THEN), "Nobody is there any more by the time that it could be done."),
        (
            Reason(Hindrance.NO_ROOM),
            "There is no room left for it before the last day on which someone is there.",
        ),
    ],
)
def test_each_reason_is_said_with_names(organisation, season, reason, words):
    crew, bender, _, _ = season
    crew.name = "Crew A"
    crew.save()
    refs = {"crew": f"crew-{crew.pk}", "bender": f"bender-{bender.pk}"}
    reason = replace(reason, resources=tuple(refs[kind] for kind in reason.resources))
    assert Names(organisation, datetime(2027, 5, 3, 5, 15, tzinfo=UTC), []).why(reason) == words


def test_every_rule_has_its_words_and_a_crew_that_is_gone_is_no_number(organisation, season):
    names = Names(organisation, NOW, [])
    for rule in Hindrance:
        said = names.why(Reason(rule, "9999", ("crew-9999",), 2, 4, 0))
        assert "9999" not in said and "{" not in said


def test_a_wait_names_the_step_of_the_same_house(organisation, season):
    _, _, _, tasks = season
    why = Names(organisation, NOW, [tasks[1].pk]).why(Reason(Hindrance.WAITS, str(tasks[1].pk)))
    assert why == "It waits for “Bend the batch” of the same house, which cannot be placed."


def test_a_task_too_long_for_what_is_left_says_so_with_hours_and_the_day(organisation, user, season):
    """Five days of eight hours a week are about 2,080 h in the year that is planned ahead; 10,000 h do not fit."""
    crew, _, _, tasks = season
    Task.objects.filter(pk=tasks[0].pk).update(minutes=600_000)
    why = dict(worked(organisation, user).result["unplaced"])
    assert why[tasks[0].pk] == f"{crew} has no 10,000 h left from Monday 3 May, 05:15 on."
    assert why[tasks[2].pk] == "It waits for “Ground posts” of the same house, which cannot be placed."


def test_a_schedule_that_an_earlier_version_stored_shows_its_words(signed_in, organisation, user, season):
    _, _, _, tasks = season
    schedule = worked(organisation, user)
    before = "There is never 1 of Rail bender there at once."
    Schedule.objects.filter(pk=schedule.pk).update(result=schedule.result | {"unplaced": [[tasks[1].pk, before]]})
    assert before in signed_in.get(f"/crew/schedules/{schedule.number}/").content.decode()
