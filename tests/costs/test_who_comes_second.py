"""Whoever comes second at hours, days and trips is told what is true once the first has ended."""

from __future__ import annotations

from datetime import time
from decimal import Decimal

import pytest

from farmbuild.costs.equipment import services as equipment
from farmbuild.costs.models import EquipmentDay, PaidTime, Trip
from farmbuild.costs.rates import set_equipment_rate, set_trip_rate
from farmbuild.costs.time import services as hours
from farmbuild.costs.trips import services as trips
from farmbuild.crew.hours import other_work
from farmbuild.crew.hours.services import CHANGED, approve, correct
from farmbuild.crew.models import HourApproval, HourCorrection
from tests.costs.making import DAY, FIRST, Team
from tests.crew.hours.making import a_run
from tests.factories import BenderFactory
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def team(organisation, user):
    return Team(organisation, user).rates()


def test_a_row_is_taken_back_once(team):
    set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
    bender = BenderFactory(organisation=team.organisation)
    thing = set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(18), bender=bender).equipment
    [worked] = hours.type_time(**team.who, person=team.ann, day=DAY, house=team.house, what="posts", minutes=60)
    stood = equipment.charge_day(**team.who, day=DAY, house=team.house, equipment=thing)
    went = trips.charge_trips(**team.who, site=team.house.site, day=DAY, times=1, house=team.house)
    for take_back, row in (
        (hours.take_back_time, worked),
        (equipment.take_back_day, stood),
        (trips.take_back_trip, went),
    ):

        def press(take_back=take_back, row=row):
            take_back(**team.who, row=row, reason="typed twice")

        assert comes_second(press, press) == "This is taken back already."
    assert [rows.objects.count() for rows in (PaidTime, EquipmentDay, Trip)] == [2, 2, 2]


def test_nobody_is_at_two_things_at_once(team):
    def typed(what):
        return lambda: hours.type_time(
            **team.who, person=team.ann, day=DAY, house=team.house, what=what, starts=time(8), ends=time(10)
        )

    assert "at two things at once" in comes_second(typed("posts"), typed("film"))
    assert {row.what for row in PaidTime.objects.all()} == {"posts"}


def test_hours_are_approved_as_they_stand_and_once(team):
    run, other = a_run(team.task, team.ann), a_run(team.task, team.ann, day=1)

    def to(minutes):
        return lambda: correct(**team.who, actual=run, minutes=minutes, people=1, reason="Stop forgotten", seen=None)

    def approved(one):
        return lambda: approve(**team.who, runs=[(one.pk, None)])

    assert comes_second(to(90), approved(run)) == CHANGED
    assert HourCorrection.objects.count() == 1
    assert comes_second(approved(other), approved(other)) == 0
    assert HourApproval.objects.count() == 1


def test_other_work_is_taken_back_once_and_not_approved_then(team):
    [one, two] = [
        other_work.write_down(**team.who, house=team.house, what="fence", day=DAY, minutes=30, person=team.ann)
        for _ in range(2)
    ]

    def away(work):
        return lambda: other_work.remove(**team.who, work=work, reason="written down twice")

    assert comes_second(away(one), away(one)) == "This is taken back already."
    assert comes_second(away(two), lambda: approve(**team.who, runs=[], other=[two.pk])) == CHANGED
