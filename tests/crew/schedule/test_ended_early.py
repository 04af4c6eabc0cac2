"""Who cannot wait for the best schedule has the best so far; how far the search is stands in houses and days."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.common.long_work import AskedToEnd
from farmbuild.crew import bridge
from farmbuild.crew.models import Schedule
from farmbuild.crew.schedule import services, working
from tests.crew.schedule.test_services import NOW, a_season
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def schedule(organisation, user) -> Schedule:
    a_season(organisation)
    return services.create_schedule(organisation=organisation, user=user, now=NOW)


def found(**changes) -> bridge.Found:
    usual = {"share": 0.5, "placed": 40, "jobs": 40, "ends": 96, "late": 0, "moved": None, "no_sooner": 0}
    return bridge.Found(**usual | changes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        # A day of quarters of an hour after Monday 3 May it is Tuesday.
        ({}, "40 houses placed, the last ends on 4 May 2027."),
        ({"placed": 12}, "12 of 40 houses placed, the last ends on 4 May 2027."),
        ({"jobs": 1, "placed": 1, "late": 1}, "1 house placed, the last ends on 4 May 2027; 1 late."),
        ({"late": 2, "moved": 1}, "40 houses placed, the last ends on 4 May 2027; 2 late; 1 task moved."),
        (
            {"ends": 96 * 3, "no_sooner": 96},
            "40 houses placed, the last ends on 6 May 2027. None ends before 4 May 2027.",
        ),
        ({"no_sooner": 90}, "40 houses placed, the last ends on 4 May 2027."),
    ],
)
def test_how_far_it_is_is_said_in_houses_and_days(schedule, changes, words):
    assert working.said_of(found(**changes), schedule) == words


def test_what_ends_at_midnight_ends_on_the_day_before(schedule):
    to_midnight = (24 * 60 - NOW.hour * 60 - NOW.minute) // 15
    words = [working.said_of(found(ends=to_midnight + more), schedule) for more in (0, 1)]
    assert words == [f"40 houses placed, the last ends on {day} May 2027." for day in (NOW.day, NOW.day + 1)]


def test_pressed_while_it_is_worked_out_the_best_so_far_is_kept(schedule, signed_in, monkeypatch):
    monkeypatch.setattr(AskedToEnd, "SECONDS", 0)
    search, told = bridge.work_out, []
    page = reverse("crew:schedule", args=[schedule.number])

    def pressed(tasks, resources, *, progress, **kwargs):
        assert "End it and keep the best so far" in text_of(signed_in.get(page))
        for _ in range(2):
            assert signed_in.post(reverse("crew:schedule-end", args=[schedule.number])).url == page
        text = text_of(signed_in.get(page))
        assert "The search is being ended; the best so far is kept." in text and "End it" not in text

        def tell(now):
            told.append(progress(now))
            return told[-1]

        return search(tasks, resources, progress=tell, **kwargs)

    monkeypatch.setattr(bridge, "work_out", pressed)
    working.work_out_schedule(schedule.pk)
    schedule.refresh_from_db()
    assert schedule.state == Schedule.State.READY, schedule.problem
    assert schedule.result["method"].endswith("; ended when asked") and told and all(told)
    assert len(schedule.result["placed"]) == len(schedule.inputs["work"]["tasks"])
    # A whole schedule as any other: it can be published.
    assert signed_in.post(reverse("crew:schedule-publish", args=[schedule.number])).url == reverse("crew:board")
    text = text_of(signed_in.get(page))
    assert ("The search was ended early" in text) is not schedule.result["optimal"]


def test_pressed_when_it_is_worked_out_nothing_changes(schedule, signed_in):
    working.work_out_schedule(schedule.pk)
    signed_in.post(reverse("crew:schedule-end", args=[schedule.number]))
    schedule.refresh_from_db()
    assert (schedule.state, schedule.ends_early) == (Schedule.State.READY, False)


def test_who_only_looks_cannot_end_it(schedule, signed_in, organisation):
    organisation.memberships.update(role="crew")
    assert "End it" not in text_of(signed_in.get(reverse("crew:schedule", args=[schedule.number])))
    signed_in.post(reverse("crew:schedule-end", args=[schedule.number]))
    schedule.refresh_from_db()
    assert not schedule.ends_early
