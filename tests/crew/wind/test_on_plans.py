"""Notes of wind on the board, the sheet of the week, a task and a calendar; nowhere a word that work is safe."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from icalendar import Calendar

from farmbuild.crew import feeds
from farmbuild.crew.bridge import next_slot
from farmbuild.crew.models import Schedule, Task, WindLimit
from farmbuild.crew.wind.services import enter_forecast, set_limits
from farmbuild.orgs.clock import today_of
from tests.factories import HouseFactory, PersonFactory, SiteFactory

pytestmark = pytest.mark.django_db

MISSING = "no wind forecast typed for this day"
#: Sentences that would clear the work. "Do not read that as safe" is the one place where the word may stand.
CLEARING = re.compile(r"(?<!read that as )\bsafe|\ball clear|\bcalm enough|\bgo ahead|\bmay be done", re.IGNORECASE)


def text_of(response) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


@pytest.fixture
def given(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def day(organisation):
    return today_of(organisation=organisation) + timedelta(days=2)


@pytest.fixture
def person(organisation, user):
    return PersonFactory(crew__organisation=organisation, slug="ash", user=user)


@pytest.fixture
def plan(organisation, person, day):
    """``plan(kind, site name)``: a task from 9 to 12 UTC on ``day`` for the crew of ``person``."""

    def make(kind: str, site: str = "Mossgate") -> Task:
        house = HouseFactory(site=SiteFactory(organisation=organisation, name=site), organisation=organisation)
        starts = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
        times = {"starts_at": starts, "ends_at": starts + timedelta(hours=3)}
        return Task.objects.create(organisation=organisation, house=house, kind=kind, crew=person.crew, **times)

    return make


def limit(given, **speeds) -> None:
    rows = {
        work: {"speed": Decimal(speed), "measure": WindLimit.Measure.GUST, "source": "Maker's sheet"}
        for work, speed in speeds.items()
    }
    set_limits(**given, unit="mph", limits=rows)


def blow(given, task, day, gust) -> None:
    wind = {"wind": Decimal(5), "gust": Decimal(gust), "unit": "mph", "source": "Invented radio"}
    enter_forecast(**given, site=task.house.site, day=day, **wind)


def places(task, day) -> dict[str, str]:
    """Addresses on which the notes of a task stand."""
    return {
        "board": f"/crew/?week={day.isoformat()}",
        "sheet": f"/crew/week/{day.isoformat()}/",
        "task": f"/crew/tasks/{task.pk}/",
        "day list": f"/crew/day/?person=ash&day={day.isoformat()}",
    }


@pytest.mark.parametrize("place", ["board", "sheet", "task", "day list"])
def test_each_place_says_what_is_missing_warns_and_never_clears(signed_in, given, day, plan, place):
    task = plan("film")

    def page() -> str:
        text = text_of(signed_in.get(places(task, day)[place]))
        assert not CLEARING.search(text), CLEARING.search(text)
        return text

    assert "No wind limit is set for film work" in page() and MISSING in page()
    limit(given, film=15, ladder=25)
    assert "Film" in page() and MISSING in page() and "Do not put on" not in page()
    blow(given, task, day, 12)
    assert MISSING not in page() and "this is no clearance" in page() and "Do not put on" not in page()
    blow(given, task, day, 18)
    assert "Do not put on or take off film at Mossgate" in page() and "gusts 18 mph" in page()
    assert "Do not work from ladders" not in page()


@pytest.mark.parametrize("place", ["board", "sheet", "task"])
def test_work_without_film_or_ladder_has_no_note(signed_in, given, day, plan, place):
    task = plan("bend")
    limit(given, film=15, ladder=25)
    blow(given, task, day, 90)
    text = text_of(signed_in.get(places(task, day)[place]))
    assert "Wind." not in text and MISSING not in text and "Wind over a limit" not in text


@pytest.mark.parametrize("place", ["board", "sheet", "task", "day list"])
def test_a_forecast_typed_after_publishing_says_so(signed_in, given, organisation, user, day, plan, place):
    task = plan("sight")
    limit(given, ladder=25)
    blow(given, task, day, 30)
    row = {"number": 1, "state": "ready", "starts_at": next_slot(timezone.now()), "inputs": {}, "created_by": user}
    row["published_at"] = timezone.now()
    Schedule.objects.create(organisation=organisation, result={"ends_at": timezone.now().isoformat()}, **row)
    words = "typed after the schedule was published"
    text = text_of(signed_in.get(places(task, day)[place]))
    assert "Do not work from ladders" in text and words not in text
    blow(given, task, day, 31)
    text = text_of(signed_in.get(places(task, day)[place]))
    assert "gusts 31 mph" in text and words in text


def test_the_week_says_like_notes_of_several_sites_once(signed_in, given, day, plan):
    first = plan("film", "Alder")
    plan("sight", "Birch")
    limit(given, film=15, ladder=25)
    text = text_of(signed_in.get(places(first, day)["sheet"]))
    assert f"Film and ladder work at Alder; ladder work at Birch: {MISSING}." in text
    assert text.count(MISSING) == 1
    blow(given, first, day, 40)
    page = signed_in.get(places(first, day)["board"])
    text = text_of(page)
    assert "Wind over a limit, by what was entered:" in text
    assert (
        f'?week={day.isoformat()}#{day.isoformat()}"' in page.content.decode()
        and f'id="{day.isoformat()}"' in page.content.decode()
    )
    assert f"Do not work from ladders at Alder ({first.house})." in text
    assert f"Ladder work at Birch: {MISSING}." in text


def test_a_finished_task_has_no_note(signed_in, given, day, plan):
    task = plan("film")
    Task.objects.update(state="done")
    text = text_of(signed_in.get(places(task, day)["task"]))
    assert MISSING not in text and "No wind limit" not in text


def test_the_calendar_of_a_person_says_it_and_its_stamp_moves(client, given, organisation, user, person, day, plan):
    film, bend = plan("film"), plan("bend")
    feed = feeds.make_feed(organisation=organisation, user=user, person=person)

    def events() -> dict[str, object]:
        calendar = Calendar.from_ical(client.get(feed.get_absolute_url()).content)
        return {str(event["uid"]).split("@")[0]: event for event in calendar.walk("VEVENT")}

    limit(given, film=15)
    before = events()
    said = str(before[f"task-{film.pk}"]["description"])
    assert MISSING in said and "no clearance" in said and "description" not in before[f"task-{bend.pk}"]
    blow(given, film, day, 18)
    after = events()[f"task-{film.pk}"]
    assert "Do not put on or take off film" in after["description"]
    assert after["dtstamp"].dt >= before[f"task-{film.pk}"]["dtstamp"].dt
    assert not CLEARING.search(str(after["description"]))


def test_a_calendar_costs_the_same_with_more_tasks(client, given, organisation, user, person, day, plan):
    feed = feeds.make_feed(organisation=organisation, user=user, person=person)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            client.get(feed.get_absolute_url())
        return len(asked)

    blow(given, plan("film"), day, 18)
    few = queries()
    for _ in range(5):
        plan("sight")
    assert queries() == few
