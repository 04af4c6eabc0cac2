"""Pages of the wind: what they say without limits, what they store, what they refuse, and whose rows they show."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from farmbuild.crew.models import Task, WindForecast, WindLimit
from farmbuild.crew.wind.selectors import wind_notes
from farmbuild.orgs.clock import today_of
from tests.factories import HouseFactory, SiteFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def day(organisation):
    return today_of(organisation=organisation) + timedelta(days=1)


@pytest.fixture
def house(organisation, day):
    house = HouseFactory(site=SiteFactory(organisation=organisation, name="Mossgate"), organisation=organisation)
    starts = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
    times = {"starts_at": starts, "ends_at": starts + timedelta(hours=2)}
    Task.objects.create(organisation=organisation, house=house, kind="film", **times)
    return house


def limits_sent(**changes) -> dict[str, str]:
    usual = {"unit": "mph", "film_speed": "15", "film_measure": "gust", "film_source": "Film maker's sheet"}
    return usual | {"ladder_speed": "", "ladder_measure": "", "ladder_source": ""} | changes


def forecast_sent(house, on, **changes) -> dict[str, str]:
    usual = {"unit": "mph", "site": house.site.pk, "day": on.isoformat(), "wind": "8", "gust": "15"}
    return usual | {"source": "Invented radio, 6:00"} | changes


def test_without_limits_the_page_says_that_none_is_set(signed_in, house):
    page = text_of(signed_in.get("/crew/wind/"))
    assert "No wind limit is set for film work or ladder work; do not read that as safe." in page
    assert "No wind limit is set for film work. Do not read that as safe" in page
    assert "1 no forecast" in page


def test_limit_and_forecast_are_typed_and_warn(signed_in, organisation, user, house, day):
    assert signed_in.post(reverse("crew:wind-limits"), limits_sent())["Location"] == "/crew/wind/"
    assert WindLimit.objects.get().speed == Decimal(15)
    form = signed_in.get(reverse("crew:wind-forecast"), {"site": house.site.slug, "day": day.isoformat()})
    assert form.context["form"]["site"].value() == house.site.pk and form.context["form"]["day"].value() == day
    assert signed_in.post(reverse("crew:wind-forecast"), forecast_sent(house, day))["Location"] == "/crew/wind/"
    row = WindForecast.objects.get()
    assert (row.entered_by, row.gust, row.unit, row.source) == (user, Decimal(15), "mph", "Invented radio, 6:00")
    page = text_of(signed_in.get("/crew/wind/"))
    assert "Do not put on or take off film at Mossgate" in page and f"entered by {user.username}" in page
    assert "No wind limit is set for ladder work. Do not read that as safe" in page
    assert "1 has a warning, 0 no forecast" in page


def test_the_shared_part_shows_the_notes(organisation, house, day):
    html = render_to_string("crew/wind/notes.html", {"notes": wind_notes(organisation=organisation, day=day)})
    assert html.count('class="warning"') == 2 and f"Planned: {house.name}." in html


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"film_speed": "much"}, "film_speed"),
        ({"film_speed": "0"}, "film_speed"),
        ({"film_speed": "12.55"}, "film_speed"),
        ({"film_speed": "NaN"}, "film_speed"),
        ({"film_speed": ""}, "film_speed"),
        ({"film_measure": ""}, "film_measure"),
        ({"film_source": " "}, "film_source"),
        ({"ladder_source": "Own rule"}, "ladder_speed"),
    ],
)
def test_half_a_limit_is_refused_at_its_field_and_nothing_is_stored(signed_in, changes, field):
    answer = signed_in.post(reverse("crew:wind-limits"), limits_sent(**changes))
    assert answer.status_code == 200 and list(answer.context["form"].errors) == [field]
    assert not WindLimit.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"wind": ""}, "wind"),
        ({"wind": "-1"}, "wind"),
        ({"gust": "7.9"}, "gust"),
        ({"gust": "400.1"}, "gust"),
        ({"day": "2001-01-01"}, "day"),
        ({"source": ""}, "source"),
        ({"unit": "knots"}, "unit"),
    ],
)
def test_a_wrong_forecast_is_refused_at_its_field(signed_in, house, day, changes, field):
    answer = signed_in.post(reverse("crew:wind-forecast"), forecast_sent(house, day, **changes))
    assert answer.status_code == 200 and list(answer.context["form"].errors) == [field]
    assert not WindForecast.objects.exists()


def test_two_mistakes_are_both_said_at_once(signed_in, house, day):
    answer = signed_in.post(reverse("crew:wind-forecast"), forecast_sent(house, day, day="2001-01-01", gust="7.9"))
    assert set(answer.context["form"].errors) == {"day", "gust"}


def test_speeds_are_stored_in_the_unit_that_was_shown(signed_in, organisation, house, day):
    organisation.unit_system = "metric"
    organisation.save()
    assert "Mean wind, in km/h" in text_of(signed_in.get(reverse("crew:wind-forecast")))
    signed_in.post(reverse("crew:wind-forecast"), forecast_sent(house, day))
    assert WindForecast.objects.get().unit == "mph"
    # 8 and 15 miles are 12.87 and 24.14 km: said in the reader's unit, with what was typed beside it.
    page = text_of(signed_in.get(reverse("crew:wind")))
    assert "Mean wind 12.8 km/h (8 mph), gusts 24.1 km/h (15 mph)" in page
    organisation.unit_system = "imperial"
    organisation.save()
    assert "Mean wind 8 mph, gusts 15 mph" in text_of(signed_in.get(reverse("crew:wind")))


def test_a_limit_is_shown_in_the_other_unit_rounded_down(signed_in, organisation):
    signed_in.post(reverse("crew:wind-limits"), limits_sent())
    organisation.unit_system = "metric"
    organisation.save()
    # 15 miles are 24.14016 km.
    assert signed_in.get(reverse("crew:wind-limits")).context["form"]["film_speed"].value() == "24.1"


def test_sites_of_others_are_not_found(signed_in, organisation, day):
    stranger = HouseFactory()
    answer = signed_in.get(reverse("crew:wind-forecast"), {"site": stranger.site.slug})
    assert answer.status_code == 404
    SiteFactory(organisation=organisation)
    refused = signed_in.post(reverse("crew:wind-forecast"), forecast_sent(stranger, day))
    assert list(refused.context["form"].errors) == ["site"] and not WindForecast.objects.exists()


def test_the_part_of_people_links_here(signed_in):
    assert 'href="/crew/wind/"' in text_of(signed_in.get(reverse("crew:people")))
