"""Wind limits, forecasts and notes: the limit itself, units, days by the clock, age, and what is refused."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from farmbuild.crew.models import Task, WindForecast, WindLimit
from farmbuild.crew.wind.notes import BELOW, LINES, OVER, SITES, WindNote, lines_of
from farmbuild.crew.wind.selectors import notes_of, wind_days, wind_notes
from farmbuild.crew.wind.services import enter_forecast, set_limits
from farmbuild.orgs.clock import today_of
from farmbuild.sites.models import Site
from tests.factories import HouseFactory, SiteFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def given(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def site(organisation):
    return SiteFactory(organisation=organisation, name="Mossgate")


@pytest.fixture
def day(organisation):
    return today_of(organisation=organisation) + timedelta(days=2)


@pytest.fixture
def plan(organisation, site, day):
    """``plan(kind)``: a task from 9 to 12 UTC on ``day``, or between the times given."""

    def make(kind: str, starts: datetime | None = None, ends: datetime | None = None, **changes) -> Task:
        starts = starts or datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
        house = changes.pop("house", None) or HouseFactory(site=site, organisation=organisation)
        times = {"starts_at": starts, "ends_at": ends or starts + timedelta(hours=3)}
        return Task.objects.create(organisation=organisation, house=house, kind=kind, **times, **changes)

    return make


def limit(given, work="film", speed="25", measure="gust", unit="mph") -> None:
    set_limits(
        **given, unit=unit, limits={work: {"speed": Decimal(speed), "measure": measure, "source": "Maker's sheet"}}
    )


def blow(given, site, day, wind="10", gust="20", unit="mph") -> WindForecast:
    gust = None if gust is None else Decimal(gust)
    return enter_forecast(
        **given, site=site, day=day, wind=Decimal(wind), gust=gust, unit=unit, source="Invented radio"
    )


def states(organisation, day, **more) -> dict[str, str]:
    return {note.work: note.state for note in wind_notes(organisation=organisation, day=day, **more)}


@pytest.mark.parametrize(("gust", "state"), [("24.9", "below"), ("25", "over"), ("25.1", "over"), (None, "no gust")])
def test_exactly_the_limit_is_over_it(given, organisation, site, day, plan, gust, state):
    plan("film")
    limit(given)
    blow(given, site, day, gust=gust)
    assert states(organisation, day)["film"] == state


def test_a_mean_wind_at_a_limit_of_gusts_is_over_it_without_gusts(given, organisation, site, day, plan):
    plan("film")
    limit(given)
    blow(given, site, day, wind="25", gust=None)
    assert states(organisation, day)["film"] == "over"


@pytest.mark.parametrize(("wind", "state"), [("24.9", "below"), ("25", "over")])
def test_a_limit_of_mean_wind_ignores_gusts(given, organisation, site, day, plan, wind, state):
    plan("ridge")
    limit(given, work="ladder", measure="mean")
    blow(given, site, day, wind=wind, gust="90")
    assert states(organisation, day) == {"ladder": state}


@pytest.mark.parametrize(("kmh", "state"), [("40.2", "below"), ("40.3", "over")])
def test_units_are_compared_exactly(given, organisation, site, day, plan, kmh, state):
    """25 miles are 40.2336 km."""
    plan("film")
    limit(given)
    blow(given, site, day, gust=kmh, unit="kmh")
    assert states(organisation, day)["film"] == state


def test_only_work_with_film_or_ladders_is_noted(organisation, day, plan):
    for kind in ("survey", "bend", "set", "base"):
        plan(kind)
    assert wind_notes(organisation=organisation, day=day) == []
    for kind in ("sight", "ridge", "ends"):
        plan(kind)
    assert states(organisation, day) == {"ladder": "no limit"}
    plan("film")
    assert states(organisation, day) == {"film": "no limit", "ladder": "no limit"}
    Task.objects.update(state="done")
    assert wind_notes(organisation=organisation, day=day) == []


@pytest.mark.parametrize("of", ["house", "site"])
def test_an_archived_house_or_site_has_no_note(organisation, day, plan, of):
    house = plan("film").house
    row = house if of == "house" else house.site
    type(row).objects.filter(pk=row.pk).update(archived_at=timezone.now())
    assert wind_notes(organisation=organisation, day=day) == []


def test_a_task_without_a_day_has_no_note(organisation, plan):
    tasks = [plan("film"), plan("film")]
    tasks[1].starts_at = tasks[1].ends_at = None
    assert list(notes_of(organisation=organisation, tasks=tasks)) == [tasks[0].pk]


def test_words_never_clear_the_work(given, organisation, site, day, plan):
    house = plan("film").house

    def words() -> str:
        return wind_notes(organisation=organisation, day=day)[0].words

    assert "Do not read that as safe" in words()
    limit(given)
    assert "no wind forecast typed for this day" in words() and "this is no clearance" in words()
    blow(given, site, day)
    assert "no warning by what was entered" in words() and "this is no clearance" in words()
    blow(given, site, day, gust="31.5")
    assert words().startswith("Do not put on or take off film at Mossgate on ")
    assert "gusts 31.5 mph" in words() and "25 mph in gusts" in words()
    assert wind_notes(organisation=organisation, day=day)[0].houses == house.name


def test_the_entry_made_last_holds_even_where_it_is_lower(given, organisation, site, day, plan):
    plan("film")
    limit(given)
    blow(given, site, day, gust="40")
    blow(given, site, day, gust="12")
    assert states(organisation, day)["film"] == "below"
    assert WindForecast.objects.count() == 2


@pytest.mark.parametrize(("hours", "old"), [(23, False), (25, True)])
def test_an_entry_over_a_day_old_is_said_to_be_old(given, organisation, site, day, plan, hours, old):
    plan("film")
    limit(given)
    row = blow(given, site, day)
    WindForecast.objects.filter(pk=row.pk).update(entered_at=row.entered_at - timedelta(hours=hours))
    note = wind_notes(organisation=organisation, day=day)[0]
    assert (note.old, "over a day old" in note.words) == (old, old)


def test_days_go_by_the_clock_of_the_organisation(given, organisation, site, plan):
    organisation.time_zone = "America/New_York"
    organisation.save()
    # 7 January in London, still 6 January in New York (5 hours behind); ends at midnight there.
    plan("film", datetime(2087, 1, 7, 2, tzinfo=UTC), datetime(2087, 1, 7, 5, tzinfo=UTC))
    assert states(organisation, date(2087, 1, 6)) == {"film": "no limit", "ladder": "no limit"}
    assert states(organisation, date(2087, 1, 7)) == {}


def test_a_task_over_several_days_is_noted_on_each(organisation, plan):
    plan("ridge", datetime(2087, 1, 6, 9, tzinfo=UTC), datetime(2087, 1, 8, 10, tzinfo=UTC))
    days = wind_days(organisation=organisation, first=date(2087, 1, 7), last=date(2087, 1, 20))
    assert [row.day for row in days] == [date(2087, 1, 7), date(2087, 1, 8)]


def test_notes_of_one_site_alone(organisation, site, day, plan):
    plan("film")
    other = SiteFactory(organisation=organisation)
    assert states(organisation, day, site=other) == {}
    assert set(states(organisation, day, site=site)) == {"film", "ladder"}


def test_rows_of_others_are_neither_read_nor_used(given, organisation, site, day, plan):
    plan("film")
    stranger = SiteFactory()
    with pytest.raises(ValidationError) as caught:
        blow(given, stranger, day)
    assert "site" in caught.value.message_dict
    blow({"organisation": stranger.organisation, "user": None}, stranger, day)
    assert wind_notes(organisation=stranger.organisation, day=day) == []
    assert [row.site for row in wind_days(organisation=organisation, first=day, last=day)] == [site]


@pytest.mark.parametrize(("ahead", "taken"), [(-1, False), (0, True), (13, True), (14, False)])
def test_a_forecast_is_for_today_or_the_next_days(given, organisation, site, ahead, taken):
    day = today_of(organisation=organisation) + timedelta(days=ahead)
    if taken:
        assert blow(given, site, day).day == day
        return
    with pytest.raises(ValidationError) as caught:
        blow(given, site, day)
    assert "day" in caught.value.message_dict


def test_gusts_below_the_wind_are_refused_by_service_and_database(given, organisation, site, day):
    with pytest.raises(ValidationError) as caught:
        blow(given, site, day, wind="20", gust="19.9")
    assert "gust" in caught.value.message_dict
    row = blow(given, site, day, wind="20", gust="20")
    with pytest.raises(IntegrityError), transaction.atomic():
        WindForecast.objects.filter(pk=row.pk).update(gust=Decimal("19.9"))


def test_a_limit_is_set_changed_and_taken_away(given, organisation):
    limit(given)
    limit(given, speed="18.5", measure="mean")
    row = WindLimit.objects.get()
    assert (row.work, row.speed, row.measure, row.set_by) == ("film", Decimal("18.5"), "mean", given["user"])
    set_limits(**given, unit="mph", limits={"film": None})
    assert not WindLimit.objects.exists()


def note(at: int, state: str, *, typed: bool = True) -> WindNote:
    return WindNote(Site(pk=at, name=f"Field {at}"), date(2087, 1, 6), "film", state, "", figures="said", typed=typed)


@pytest.mark.parametrize("more", [0, 1, 12])
@pytest.mark.parametrize("state", [OVER, BELOW])
def test_lines_of_one_state_are_as_many_as_there_is_room_for_and_the_rest_are_counted(state, more):
    lines = lines_of(note(at, state) for at in range(LINES + more))
    named = [re.search(rf"Field {at}\b", line.words) is not None for at, line in enumerate(lines)]
    assert named == [True] * LINES + [False] * (more > 0)
    assert {(line.warns, line.over) for line in lines} == {(state == OVER, state == OVER)}
    if more:
        assert lines[-1].words.startswith(f"{more} more ")


@pytest.mark.parametrize("more", [0, 1, 3])
def test_sites_of_one_line_are_as_many_as_there_is_room_for_and_the_rest_are_counted(more):
    [line] = lines_of(note(at, BELOW, typed=False) for at in range(SITES + more))[:1]
    assert line.words.count("ilm work at Field") == SITES
    assert (f"; {more} more sites:" in line.words) == (more > 0)
    assert (line.warns, line.over) == (False, False)
