"""Pages of costs: what they say, their forms, their files, who sees them, and how often they ask the database."""

from __future__ import annotations

import csv
import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.costs.forms import EquipmentDayForm
from farmbuild.costs.models import EquipmentDay, EquipmentRate, PaidTime, PayRate, Trip, TripRate
from farmbuild.costs.rates import set_equipment_rate, set_trip_rate
from farmbuild.costs.time.services import type_time
from farmbuild.costs.trips import services as trips
from farmbuild.crew.models import HourApproval, Kind
from farmbuild.history.models import Entry
from farmbuild.orgs.models import Language, Membership
from tests.costs.making import DAY, FIRST, Team, a_task
from tests.crew.hours.making import a_run
from tests.factories import BenderFactory, MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def team(organisation, user):
    return Team(organisation, user).rates()


def send(client, name, *args, **data):
    return client.post(reverse(f"costs:{name}", args=args), data, follow=True)


def test_from_hours_to_what_the_house_cost(signed_in, team):
    run = a_run(team.task, team.ann, people=2, begins="10:00", ends="12:00")
    three = a_run(team.task, team.ann, people=3, begins="13:00", ends="14:00")
    team.approve(run, three)
    page = text_of(signed_in.get(reverse("costs:time")))
    assert "2 rows of time; 1 approved run not in money." in page
    approval = HourApproval.objects.get(actual=three)
    asked = signed_in.get(reverse("costs:time-people", args=[approval.pk]))
    assert "3 worked 1 h on 2 November 2026: choose who they were." in text_of(asked)
    assert asked.context["form"].initial["people"] == [team.ann.pk, team.ben.pk]
    told = send(signed_in, "time-people", approval.pk, people=[team.ann.pk, team.ben.pk])
    assert "3 people worked. Choose as many, 2 are chosen." in text_of(told)
    page = text_of(signed_in.get(reverse("costs:house", args=[team.house.slug])))
    assert f"{team.house.name} cost $127.50 up to now." in page
    assert "Ground posts" in page and "4 h" in page
    assert reverse("costs:house", args=[team.house.slug]) in text_of(signed_in.get(team.house.get_absolute_url()))
    assert "$127.50 up to now, for 1 house." in text_of(signed_in.get(reverse("costs:houses")))


def test_hours_that_waited_for_a_rate_are_put_in_by_one_press(signed_in, team):
    PayRate.objects.all().delete()
    team.approve(a_run(team.task, team.ann))
    page = signed_in.get(reverse("costs:time"))
    assert page.context["ready"] == 0 and "no pay rate of Ann" in text_of(page)
    answer = send(signed_in, "pay-rate", an_hour="30", since="2026-01-01")
    assert "The price is set: Everybody." in text_of(answer)
    assert "Put 1 into money" in text_of(signed_in.get(reverse("costs:time")))
    send(signed_in, "time-put")
    assert PaidTime.objects.get().amount == 60


def test_the_page_of_a_trip_says_who_shares_it_and_who_recorded_it(signed_in, team):
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    row = trips.charge_trips(**team.who, site=team.house.site, house=team.house, day=DAY, times=1)
    facts = signed_in.get(reverse("costs:trip", args=[row.pk])).context["facts"]
    assert [value for name, value in facts if name == "Recorded by"] == [team.user.display_name]
    assert "Shared by" not in dict(facts)
    row.pk, row.shared, row.by = None, 2, None
    row.save(force_insert=True)
    facts = dict(signed_in.get(reverse("costs:trip", args=[row.pk])).context["facts"])
    assert facts["Shared by"] == "2 houses" and "Recorded by" not in facts


def test_without_jobs_the_house_is_asked_for(organisation):
    form = EquipmentDayForm({"day": str(DAY)}, organisation=organisation)
    assert form.errors["house"] == ["Choose the house."]


def test_typed_and_taken_back(signed_in, team):
    bender = BenderFactory(organisation=team.organisation)
    given = {"day": str(DAY), "house": team.house.pk}
    film = given | {"person": team.ann.pk, "step": "film"}
    assert "Recorded: Film at" in text_of(send(signed_in, "time-new", **film, hours="2.5"))
    assert "Type the hours, or from when to when." in text_of(send(signed_in, "time-new", **film))
    price = {"since": str(FIRST)}
    assert "The price is set" in text_of(send(signed_in, "equipment-rate", **price, bender=bender.pk, a_day="18"))
    assert "The price is set" in text_of(send(signed_in, "trip-rate", **price, each="27.28"))
    thing = EquipmentRate.objects.get().equipment
    send(signed_in, "equipment-new", **given, equipment=thing.pk)
    send(signed_in, "trip-new", **given, site=team.house.site.pk, times="2")
    page = text_of(signed_in.get(reverse("costs:house", args=[team.house.slug])))
    assert f"{team.house.name} cost $145.06 up to now." in page
    assert "$72.50 of time, $18.00 of equipment and $54.56 of trips." in page
    assert "3 prices, each" not in text_of(signed_in.get(reverse("costs:rates")))
    for name, model in (("time-row", PaidTime), ("equipment-day", EquipmentDay), ("trip", Trip)):
        row = model.objects.get()
        assert "It counts, at the price of its day." in text_of(signed_in.get(reverse(f"costs:{name}", args=[row.pk])))
        assert "Say why in a few words" in text_of(send(signed_in, name, row.pk, reason=""))
        send(signed_in, name, row.pk, reason="Wrong house")
        page = text_of(signed_in.get(reverse(f"costs:{name}", args=[row.pk])))
        assert "It is taken back and counts no more." in page and "Wrong house" in page
        assert "This is taken back already." in text_of(send(signed_in, name, row.pk, reason="Again"))
    assert "Nothing was charged" in text_of(signed_in.get(reverse("costs:house", args=[team.house.slug])))


def test_what_was_proposed_is_recorded_by_one_press(signed_in, team):
    bender = BenderFactory(organisation=team.organisation)
    set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(18), bender=bender)
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    task = a_task(team.organisation, team.crew, kind=Kind.BEND)
    task.bender = bender
    task.save()
    a_run(task, team.ann)
    for name, press, model in (("equipment", "equipment-record", EquipmentDay), ("trips", "trips-record", Trip)):
        page = signed_in.get(reverse(f"costs:{name}"))
        assert "2 November 2026: $" in text_of(page)
        send(signed_in, press, seen=page.context["proposed"].seen)
        assert model.objects.count() == 1
        told = send(signed_in, press, seen=page.context["proposed"].seen)
        assert "recorded or changed since the page was loaded" in text_of(told)
        assert model.objects.count() == 1


def rows_of(answer) -> list[list[str]]:
    assert answer.headers["Content-Type"] == "text/csv; charset=utf-8"
    return [*csv.reader(io.StringIO(answer.content.decode("utf-8-sig")))]


def test_files_are_english_whoever_asks_for_them(signed_in, user, team):
    user.language = Language.SPANISH
    user.save()
    team.house.name = "=North 1"
    team.house.save()
    type_time(**team.who, person=team.ben, day=DAY, house=team.house, minutes=195, what="+Rework")
    assert rows_of(signed_in.get(reverse("costs:house-csv", args=[team.house.slug]))) == [
        ["Kind", "What", "How much", "Cost, USD"],
        ["Time", "Other work", "3 h 15 min", "112.94"],
        ["Total", f"'{team.house}", "", "112.94"],
    ]
    assert rows_of(signed_in.get(reverse("costs:houses-csv"))) == [
        ["For", *(f"{kind}, USD" for kind in ("Materials", "Time", "Equipment", "Trips", "Total"))],
        ["'=North 1", "0.00", "112.94", "0.00", "0.00", "112.94"],
    ]


@pytest.mark.parametrize("role", [Membership.Role.CREW, Membership.Role.YARD, Membership.Role.LOOKS])
def test_who_sees_no_costs_sees_nothing_of_it(client, team, role):
    client.force_login(MembershipFactory(organisation=team.organisation, role=role).user)
    [row] = type_time(**team.who, person=team.ben, day=DAY, house=team.house, minutes=195, step="film")
    pages = [
        (name,) for name in ("houses", "houses-csv", "time", "time-new", "rates", "pay-rate", "equipment", "trips")
    ]
    pages += [("house", team.house.slug), ("house-csv", team.house.slug), ("time-row", row.pk)]
    for name, *args in pages:
        assert client.get(reverse(f"costs:{name}", args=args)).status_code == 403, name
    house = client.get(team.house.get_absolute_url())
    assert reverse("costs:house", args=[team.house.slug]) not in house.content.decode()


def test_prices_are_told_with_what_they_were(team):
    team.rate("31", person=team.ann)
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    set_trip_rate(**team.who, since=FIRST, each=Decimal("28"))
    kinds = {*Entry.objects.filter(organisation=team.organisation).values_list("kind", flat=True)}
    assert {"pay-rate", "trip-rate"} <= kinds
    assert TripRate.objects.get().each == 28


def test_as_many_queries_for_many_as_for_few(signed_in, team):
    def asked(name) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert signed_in.get(reverse(f"costs:{name}")).status_code == 200
        return len(queries)

    def work(days):
        for day in days:
            team.approve(a_run(team.task, team.ann, day=day, people=3), a_run(team.task, team.ben, day=day))

    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    work([0])
    few = {name: asked(name) for name in ("time", "trips", "houses")}
    work([1, 2, 3, 4, 7, 8])
    assert {name: asked(name) for name in few} == few


def test_approving_many_asks_as_often_as_approving_two(team):
    def asked(runs) -> int:
        with CaptureQueriesContext(connection) as queries:
            team.approve(*runs)
        return len(queries) - len(runs)

    few = asked([a_run(team.task, team.ann, day=day) for day in (0, 1)])
    many = asked([a_run(team.task, team.ann, day=day + 7 * week) for day in range(4) for week in (-1, -2, -3)])
    assert many == few
    assert PaidTime.objects.filter(day__lt=DAY - timedelta(days=1)).count() == 12
