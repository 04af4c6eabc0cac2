"""A thing is charged once a house and day, a trip is shared to the coin; both are proposed, and taken back whole."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction

from farmbuild.costs.equipment import services as equipment
from farmbuild.costs.equipment.proposals import proposed_days
from farmbuild.costs.models import EquipmentDay, PaidTime, Trip
from farmbuild.costs.rates import set_equipment_rate, set_trip_rate
from farmbuild.costs.selectors import equipment_of, time_of, trips_of
from farmbuild.costs.statement.houses import costs_of
from farmbuild.costs.statement.lines import statement_of
from farmbuild.costs.time.services import type_time
from farmbuild.costs.trips import services as trips
from farmbuild.costs.trips.proposals import proposed_trips
from farmbuild.crew.models import Kind
from farmbuild.quotes.models import Customer, Job
from tests.costs.making import DAY, FIRST, Team, a_task
from tests.crew.hours.making import a_run
from tests.factories import BenderBookingFactory, BenderFactory, HouseFactory, OrganisationFactory
from tests.waiting import comes_second

pytestmark = pytest.mark.django_db


@pytest.fixture
def team(organisation, user):
    return Team(organisation, user).rates()


@pytest.fixture
def bender(team):
    found = BenderFactory(organisation=team.organisation)
    set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(18), bender=found)
    return found


@pytest.fixture
def job(organisation):
    customer = Customer.objects.create(organisation=organisation, name="Ana Ruiz", slug="ana-ruiz")
    return Job.objects.create(organisation=organisation, customer=customer, number=1, name="Two houses")


def refused(call) -> str:
    with pytest.raises(ValidationError) as error:
        call()
    return " ".join(error.value.messages)


def test_a_day_is_charged_once_a_house(team, bender):
    thing = bender.as_equipment
    given = {**team.who, "equipment": thing, "day": DAY}
    row = equipment.charge_day(**given, house=team.house)
    assert (row.rate, row.amount) == (18, 18)
    other = HouseFactory(organisation=team.organisation, site=team.house.site)
    equipment.charge_day(**given, house=other)
    words = refused(lambda: equipment.charge_day(**given, house=team.house))
    assert words == f"{bender} is charged to {team.house} for 2 November 2026 already."
    with pytest.raises(DatabaseError), transaction.atomic():
        row.pk, row._state.adding = None, True
        row.save(force_insert=True)
    row = EquipmentDay.objects.get(house=team.house)
    equipment.take_back_day(**team.who, row=row, reason="Stood in the yard")
    assert "taken back already" in refused(lambda: equipment.take_back_day(**team.who, row=row, reason="Again"))
    equipment.charge_day(**given, house=team.house)
    [cost] = equipment_of(organisation=team.organisation, houses=[team.house.pk])
    assert (cost.name, cost.days, cost.amount) == (str(bender), 1, 18)


def test_a_price_that_changes_later_changes_no_past_day(team, bender):
    given = {**team.who, "equipment": bender.as_equipment, "house": team.house}
    equipment.charge_day(**given, day=DAY)
    set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(99), bender=bender)
    assert EquipmentDay.objects.get().amount == 18
    words = refused(lambda: equipment.charge_day(**given, day=FIRST - timedelta(days=1)))
    assert words == f"There is no price for a day of {bender} on 31 December 2025. Set one first, from that day on."
    driver = set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(7), name="Post driver").equipment
    assert set_equipment_rate(**team.who, since=DAY, a_day=Decimal(8), name="post  driver").equipment == driver
    assert "Choose a bender, or type" in refused(
        lambda: set_equipment_rate(**team.who, since=DAY, a_day=Decimal(8), name="Rope", bender=bender)
    )


def test_days_at_which_a_hoop_was_bent_are_proposed(team, bender):
    bent = a_task(team.organisation, team.crew, kind=Kind.BEND)
    bent.bender = bender
    bent.save()
    booking = BenderBookingFactory(
        bender=bender, member=None, first=DAY, last=DAY + timedelta(days=1), organisation=team.organisation
    )
    for day in (0, 0, 2):
        a_run(bent, team.ann, day=day)
    a_run(team.task, team.ann, day=1)
    found = proposed_days(organisation=team.organisation)
    assert [(one.day, one.booking) for one in found] == [(DAY, booking), (DAY + timedelta(days=2), None)]
    seen = [one.token for one in found]
    assert "recorded or changed since" in refused(lambda: equipment.charge_proposed(**team.who, seen=[*seen, "1:2:3"]))
    assert equipment.charge_proposed(**team.who, seen=seen) == 2
    assert proposed_days(organisation=team.organisation) == []
    assert "recorded or changed since" in refused(lambda: equipment.charge_proposed(**team.who, seen=seen))


def test_a_trip_is_shared_by_the_houses_to_the_coin(team):
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    site = team.house.site
    for _ in range(2):
        house = HouseFactory(organisation=team.organisation, site=site)
        a_run(a_task(team.organisation, team.crew, house=house), team.ben)
    a_run(team.task, team.ann)
    [found] = proposed_trips(organisation=team.organisation)
    assert (found.crew, found.site, len(found.houses), found.rate) == (team.crew, site, 3, Decimal("27.28"))
    trips.charge_proposed(**team.who, seen=[found.token])
    assert sorted(Trip.objects.values_list("amount", flat=True)) == [Decimal("9.09"), Decimal("9.09"), Decimal("9.10")]
    assert proposed_trips(organisation=team.organisation) == []
    shared = trips_of(organisation=team.organisation, houses=None)
    assert sum(one.times for one in shared) == 1 and shared[0].times == Fraction(1, 3)
    # Another one of that day and crew, for one house alone, stays.
    alone = Trip.objects.last()
    alone.pk, alone.shared = None, 1
    alone.save(force_insert=True)
    assert len(trips.take_back_trip(**team.who, row=Trip.objects.first(), reason="Nobody went")) == 3
    trips.take_back_trip(**team.who, row=alone, reason="Nobody went")
    assert trips_of(organisation=team.organisation, houses=None) == []
    assert len(proposed_trips(organisation=team.organisation)) == 1


def test_a_trip_from_before_the_price_went_up_is_proposed_at_what_it_was(team):
    for since, each in ((FIRST, Decimal(27)), (DAY + timedelta(days=1), Decimal(30))):
        set_trip_rate(**team.who, since=since, each=each)
    a_run(team.task, team.ann)
    assert [one.rate for one in proposed_trips(organisation=team.organisation)] == [27]


def test_typed_trips(team):
    site = team.house.site
    given = {**team.who, "site": site, "day": DAY, "times": 3}
    assert refused(lambda: trips.charge_trips(**given)).startswith(f"There is no price for a trip to {site}")
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    set_trip_rate(**team.who, since=FIRST, each=Decimal("12.5"), site=site)
    assert trips.charge_trips(**given, house=team.house).amount == Decimal("37.50")
    elsewhere = a_task(team.organisation, team.crew).house
    assert "does not stand at" in refused(lambda: trips.charge_trips(**given, house=elsewhere))
    assert trips.charge_trips(**given | {"site": elsewhere.site, "times": 1}).amount == Decimal("27.28")
    for times in (0, 51):
        with pytest.raises((ValidationError, DatabaseError)), transaction.atomic():
            trips.charge_trips(**given | {"times": times})
    general = costs_of(organisation=team.organisation)[-1]
    assert (general.name, general.trips) == ("General expense", Decimal("27.28"))


def test_of_a_house_or_of_a_job_as_a_whole(team, bender, job):
    given = {**team.who, "person": team.ann, "day": DAY, "minutes": 60, "step": "survey"}
    type_time(**given, job=job)
    type_time(**given, house=team.house)
    equipment.charge_day(**team.who, equipment=bender.as_equipment, day=DAY, job=job)
    words = refused(lambda: equipment.charge_day(**team.who, equipment=bender.as_equipment, day=DAY, job=job))
    assert words == f"{bender} is charged to {job} for 2 November 2026 already."
    for call in (
        lambda: type_time(**given, job=job, house=team.house),
        lambda: equipment.charge_day(**team.who, equipment=bender.as_equipment, day=DAY),
    ):
        assert refused(call) == "Choose a house, or a job as a whole: one of the two."
    stranger = Job.objects.create(
        organisation=(other := OrganisationFactory()),
        customer=Customer.objects.create(organisation=other, name="Bo", slug="bo"),
        number=1,
        name="Theirs",
    )
    assert refused(lambda: type_time(**given, job=stranger)) == "Choose one from the list."
    values = {"organisation": team.organisation, "person": team.ann, "day": DAY, "rate": 1, "amount": 1, "step": "set"}
    for wrong in ({"job": stranger}, {}, {"job": job, "house": team.house}):
        with pytest.raises(DatabaseError), transaction.atomic():
            PaidTime.objects.create(**values, minutes=60, **wrong)
    rows = time_of(organisation=team.organisation, houses=[team.house.pk], job=job.pk)
    assert {(row.house, row.job, row.hours, row.amount) for row in rows} == {
        (None, job.pk, Decimal(1), Decimal(29)),
        (team.house.pk, None, Decimal(1), Decimal(29)),
    }
    assert [row.name for row in costs_of(organisation=team.organisation)] == [f"{job}, as a whole", team.house.name]


def test_the_statement_of_a_house_adds_up(team, bender):
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    for minutes, step in ((870, "set"), (30, "film"), (30, "set")):
        type_time(**team.who, person=team.ann, day=DAY, house=team.house, minutes=minutes, step=step)
    type_time(**team.who, person=team.ben, day=DAY, house=team.house, minutes=195, what="Rework")
    equipment.charge_day(**team.who, equipment=bender.as_equipment, day=DAY, house=team.house)
    trips.charge_trips(**team.who, site=team.house.site, house=team.house, day=DAY, times=2)
    statement = statement_of(house=team.house)
    found = [(part.name, [(line.what, line.quantity, line.amount) for line in part.lines]) for part in statement.parts]
    assert found == [
        (
            "Time",
            [
                ("Set and spring in", "15 h", Decimal("435")),
                ("Film", "30 min", Decimal("14.5")),
                ("Other work", "3 h 15 min", Decimal("112.94")),
            ],
        ),
        ("Equipment", [(str(bender), "1 day", Decimal(18))]),
        ("Trips", [(f"To {team.house.site}", "2 trips", Decimal("54.56"))]),
    ]
    assert statement.total == Decimal("635.00")
    [row] = costs_of(organisation=team.organisation)
    assert row.total == statement.total


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_record_the_same_proposals(team, bender):
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    bent = a_task(team.organisation, team.crew, kind=Kind.BEND)
    bent.bender = bender
    bent.save()
    a_run(bent, team.ann)
    for room, found in ((equipment, proposed_days), (trips, proposed_trips)):
        seen = [one.token for one in found(organisation=team.organisation)]
        both = [lambda room=room, seen=seen: room.charge_proposed(**team.who, seen=seen)] * 2
        assert "recorded or changed since" in comes_second(*both)
    assert (EquipmentDay.objects.count(), Trip.objects.count()) == (1, 1)
