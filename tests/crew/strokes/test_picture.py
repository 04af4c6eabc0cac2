"""The week and the day as strokes: as many as the house has pieces, as heavy as was recorded, whose rows."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from django.core.cache import cache

from farmbuild.crew.actuals.taking_back import take_back
from farmbuild.crew.models import Task
from farmbuild.crew.schedule.strokes import across
from farmbuild.crew.steps.services import make_tasks
from tests.crew.daylist.test_ticks import press
from tests.crew.steps.conftest import build
from tests.factories import (
    CrewFactory,
    HouseFactory,
    LotFactory,
    MembershipFactory,
    MemberSignInFactory,
    PersonFactory,
    SiteFactory,
    WorkWeekFactory,
)
from tests.reading import text_of

__all__ = ["build"]
pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/Chicago")
MONDAY = date(2027, 5, 3)


@pytest.fixture(autouse=True)
def zone(organisation):
    organisation.time_zone = ZONE.key
    organisation.save()


@pytest.fixture
def crew(organisation):
    week = WorkWeekFactory(organisation=organisation)
    return CrewFactory(organisation=organisation, week=week, name="Ash crew")


def place(task: Task, crew, starts: datetime, ends: datetime, **more) -> Task:
    Task.objects.filter(pk=task.pk).update(crew=crew, starts_at=starts, ends_at=ends, **more)
    task.refresh_from_db()
    return task


def local(day: int, hour: int, minute: int = 0, month: int = 5) -> datetime:
    return datetime(2027, month, day, hour, minute, tzinfo=ZONE)


def a_task(organisation, crew, starts, ends, **more) -> Task:
    house = HouseFactory(site=SiteFactory(organisation=organisation), organisation=organisation)
    given = {"kind": "posts", "count": 8, "people": 2, "minutes": 60} | more
    return Task.objects.create(
        organisation=organisation, house=house, crew=crew, starts_at=starts, ends_at=ends, **given
    )


def page_of(client, address: str = "/crew/?week=2027-05-03") -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def strokes(page: str, task: Task, kind: str) -> list[str]:
    """Lines of this kind of each drawing that has the task, across and downward in turn."""
    return re.findall(rf'<g class="{kind}" data-task="{task.pk}"[^>]*>(.*?)</g>', page)


def counted(page: str, task: Task, kind: str) -> tuple[int, int]:
    """How many, across and downward, over all days of the page."""
    found = [group.count("<line") for group in strokes(page, task, kind)]
    return sum(found[0::2]), sum(found[1::2])


def test_a_stroke_a_piece_over_all_the_days_of_a_task(signed_in, organisation, user, crew, build):
    """48 ft at 4 ft are 12 bays, 13 hoops and 26 posts, whatever the program counts; three days of work."""
    make_tasks(organisation=organisation, user=user, house=build("12-ft-house"))
    posts, setting = Task.objects.get(kind="posts"), Task.objects.get(kind="set")
    place(posts, crew, local(3, 13), local(5, 9))
    place(setting, crew, local(5, 9), local(5, 12))
    page = page_of(signed_in)
    bays = 48 // 4
    hoops = bays + 1
    assert counted(page, posts, "to-do") == (2 * hoops, 2 * hoops) and counted(page, posts, "done") == (0, 0)
    assert counted(page, setting, "to-do") == (hoops, hoops)
    # Of 13.5 hours 3 are on Monday, 8.5 on Tuesday and 2 on Wednesday.
    assert [group.count("<line") for group in strokes(page, posts, "to-do")][0::2] == [6, 16, 4]
    assert "26 posts" in page and "13 hoops" in page


def test_heavy_strokes_are_what_is_recorded_and_thin_again_when_it_is_taken_back(signed_in, organisation, user, crew):
    person = PersonFactory(crew=crew)
    task = a_task(organisation, crew, local(3, 8), local(3, 10))
    press(person, task, "stop", done=3, at=local(3, 9))
    assert counted(page_of(signed_in), task, "done") == (3, 3)
    last = press(person, task, "stop", done=2, at=local(3, 9, 30))
    page = page_of(signed_in)
    assert counted(page, task, "done") == (5, 5) and counted(page, task, "to-do") == (3, 3)
    assert "5 of 8 posts" in page
    take_back(organisation=organisation, user=user, actual=last)
    page = page_of(signed_in)
    assert counted(page, task, "done") == (3, 3) and "3 of 8 posts" in page
    press(person, task, "done", at=local(3, 10))
    assert counted(page_of(signed_in), task, "done") == (8, 8) and "8 posts, done" in page_of(signed_in)
    # The day of the person is the same picture.
    day = page_of(signed_in, f"/crew/day/?person={person.slug}&day=2027-05-03")
    assert counted(day, task, "done") == (8, 8)


def test_more_pieces_than_fit_are_groups_and_said_so(signed_in, organisation, crew):
    task = a_task(organisation, crew, local(3, 7), local(3, 16), count=400, done=203, state="started")
    page = page_of(signed_in)
    across, down = (int(each) for each in re.findall(rf'data-task="{task.pk}" data-each="(\d+)"', page))
    assert across > 1 and down > 1 and f"{across} a stroke" in page
    thin, heavy = counted(page, task, "to-do"), counted(page, task, "done")
    for each, light, dark in zip((across, down), thin, heavy, strict=True):
        whole, rest = divmod(203, each)
        assert dark == whole + bool(rest) and light == -(-400 // each) - whole
    assert "203 of 400 posts" in page and len(page) < 120_000


def now_at(page: str) -> list[float]:
    return [float(at) for at in re.findall(r'<line class="now" x1="([\d.]+)%"', page)]


@pytest.mark.parametrize(
    ("day", "now", "share"),
    [
        # From 7 to 16: nine hours.
        (date(2027, 5, 3), datetime(2027, 5, 3, 15, 30, tzinfo=UTC), 3.5 / 9),
        # The days on which clocks change are six hours from London in spring, and five and six an hour apart in autumn.
        (date(2027, 3, 14), datetime(2027, 3, 14, 15, 30, tzinfo=UTC), 3.5 / 9),
        (date(2027, 11, 7), datetime(2027, 11, 7, 16, 30, tzinfo=UTC), 3.5 / 9),
    ],
)
def test_now_stands_where_the_clock_of_the_site_is(signed_in, organisation, crew, monkeypatch, day, now, share):
    week = WorkWeekFactory(organisation=organisation, hours=[(n, time(7), time(16)) for n in range(7)])
    crew.week = week
    crew.save()
    task = a_task(
        organisation,
        crew,
        datetime.combine(day, time(7), ZONE),
        datetime.combine(day, time(16), ZONE),
        count=9,
        done=1,
        state="started",
    )
    monkeypatch.setattr("farmbuild.crew.schedule.strokes.presenters.present", lambda: now)
    page = page_of(signed_in, f"/crew/?week={day}")
    assert now_at(page) == [pytest.approx(share * 100, abs=0.01)]
    assert ">now 10:30</text>" in page and "Now it is 10:30." in page
    # Three and a half of nine hours: three whole pieces by the clock, one recorded.
    assert "1 of 9 posts, 3 by now" in page
    place(task, crew, task.starts_at, task.ends_at, done=9, state="done")
    assert "by now" not in page_of(signed_in, f"/crew/?week={day}")


def test_now_after_the_hours_is_said_without_a_tick(signed_in, organisation, crew, monkeypatch):
    a_task(organisation, crew, local(3, 8), local(3, 10))
    monkeypatch.setattr("farmbuild.crew.schedule.strokes.presenters.present", lambda: local(3, 21, 5))
    page = page_of(signed_in)
    assert now_at(page) == [] and "now 21:05" in page
    monkeypatch.setattr("farmbuild.crew.schedule.strokes.presenters.present", lambda: local(12, 9))
    assert "now 09:00" not in page_of(signed_in)


def test_two_tasks_at_one_time_have_strokes_of_their_own(signed_in, organisation, crew):
    one = a_task(organisation, crew, local(3, 8), local(3, 10))
    other = a_task(organisation, crew, local(3, 9), local(3, 11), kind="set")
    page = page_of(signed_in)
    heights = {re.search(r'y2="([\d.]+)em"', strokes(page, task, "to-do")[0]).group(1) for task in (one, other)}
    columns = {re.search(r'x1="([\d.]+)"', strokes(page, task, "to-do")[1]).group(1) for task in (one, other)}
    assert len(heights) == len(columns) == 2


def test_a_crew_without_tasks_is_said_and_other_organisations_are_hidden(signed_in, organisation, crew):
    CrewFactory(organisation=organisation, name="Elm crew")
    CrewFactory(organisation=organisation, name="Archived crew", archived_at=local(1, 8))
    other = MembershipFactory().organisation
    theirs = CrewFactory(organisation=other, name="Their crew")
    hidden = a_task(other, theirs, local(3, 8), local(3, 10))
    assert "Nothing is planned in this week." in page_of(signed_in, "/crew/week/2027-05-03/")
    task = a_task(organisation, crew, local(3, 8), local(3, 10))
    page = page_of(signed_in)
    assert "Nothing planned for Elm crew." in page and page.count("Nothing planned.") == 6
    for name in ("Archived crew", "Their crew", str(hidden.house)):
        assert name not in page
    assert str(task.house) in page


def test_names_are_wrapped_whole_and_marked_up_safely(signed_in, organisation, crew):
    task = a_task(organisation, crew, local(3, 15), local(3, 16))
    task.house.name = "Northernmost <b>experimental</b> seedlings & cut flowers house beside the old barn"
    task.house.save()
    page = page_of(signed_in)
    assert "<b>experimental" not in page
    (strip,) = re.findall(r'<svg class="strip" role="group".*?</svg>', page, re.S)
    words = " ".join(unescape(text) for text in re.findall(r"<text[^>]*>(.*?)</text>", strip))
    assert task.house.name.replace(" ", "") in words.replace(" ", "")


def test_nobody_reads_a_price_and_members_do_not_come_here(signed_in, client, organisation, crew):
    person = PersonFactory(crew=crew)
    LotFactory(place__organisation=organisation, material__organisation=organisation, unit_cost="987.65")
    a_task(organisation, crew, local(3, 8), local(3, 10))
    for address in ("/crew/?week=2027-05-03", f"/crew/day/?person={person.slug}&day=2027-05-03"):
        assert not re.search(r"\$|USD|987\.65", text_of(signed_in.get(address)))
    member = MemberSignInFactory(member__organisation=organisation)
    client.force_login(member.user)
    assert client.get("/crew/?week=2027-05-03").status_code != 200


def test_a_phone_shows_the_day_that_is_asked_for(signed_in, organisation, crew):
    a_task(organisation, crew, local(4, 8), local(4, 10))
    for address in ("/crew/?week=2027-05-04", "/crew/week/2027-05-04/"):
        page = page_of(signed_in, address)
        assert re.findall(r'<section class="strokes-day chosen" id="([\d-]+)"', page) == ["2027-05-04"]
        assert page.count('<section class="strokes-day') == 7
        (here,) = re.findall(r'<a href="([^"]*)"\s+aria-current="true">Tue 4', page)
        assert "2027-05-04" in here


def test_many_rows_are_bounded_and_counted(signed_in, organisation, crew, monkeypatch):
    monkeypatch.setattr("farmbuild.crew.schedule.strokes.picture.MAX_ROWS", 2)
    for day in (3, 4, 5, 6):
        a_task(organisation, crew, local(day, 8), local(day, 10))
    page = page_of(signed_in)
    assert page.count('<svg class="strip" role="group"') == 2 and "2 more rows stand in the list alone." in text_of(
        signed_in.get("/crew/?week=2027-05-03")
    )


def test_a_row_is_drawn_once_and_anew_for_all_that_stands_on_it(signed_in, organisation, crew, monkeypatch):
    drawn, entry = [], across._entry
    monkeypatch.setattr(across, "_entry", lambda *given: drawn.append(1) or entry(*given))
    task = a_task(organisation, crew, local(3, 8), local(3, 10))

    def draws() -> int:
        cache.clear()
        drawn.clear()
        page_of(signed_in)
        return len(drawn)

    assert (draws(), draws()) == (1, 0)
    for row, change in (
        (task.house, {"name": "Long house of the row"}),
        (crew, {"name": "Crew of the row"}),
        (task, {"kind": "set"}),
        (task, {"count": 9}),
        (task, {"done": 1}),
        (task, {"state": "done"}),
        (task, {"starts_at": local(3, 8, 30)}),
        (task, {"ends_at": local(3, 11)}),
        (organisation, {"time_zone": "America/New_York"}),
    ):
        type(row).objects.filter(pk=row.pk).update(**change)
        assert (draws(), draws()) == (1, 0), change
