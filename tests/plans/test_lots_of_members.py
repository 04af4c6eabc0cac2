"""A plan of the cooperative's own houses takes of a member's lot only what leave is given for."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Sum

from farmbuild.plans import services
from farmbuild.plans.accepting import NotReserved, accept_plan
from farmbuild.plans.models import Plan
from farmbuild.stock.models import Leave, Lot, Reservation
from farmbuild.stock.owners.services import end_leave, record_leave
from farmbuild.stock.services import receive_lot
from tests.factories import MemberFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def mine(season, user, organisation) -> Lot:
    """Ninety pieces of a member like those that the season's own stock has."""
    like = Lot.objects.of(organisation).filter(on_hand__gt=0, length__isnull=False, offcut=False).first()
    return receive_lot(
        organisation=organisation,
        user=user,
        material=like.material,
        length=like.length,
        quantity=90,
        place=like.place,
        received_on=like.received_on,
        owner=MemberFactory(organisation=organisation),
    )


def worked_out(season, user) -> Plan:
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


def seen(plan, lot):
    asked, _ = plan.snapshot()
    return sum(one.quantity for one in asked.lots if one.ref == lot.reference)


def test_without_leave_a_plan_does_not_see_it_and_with_leave_no_more_than_that(season, user, organisation, mine):
    assert seen(worked_out(season, user), mine) == 0
    leave = record_leave(organisation=organisation, user=user, lot=mine, quantity=2, told="by telephone")
    plan = worked_out(season, user)
    assert seen(plan, mine) == 2

    accept_plan(organisation=organisation, user=user, plan=plan)
    held = Reservation.objects.filter(lot=mine).aggregate(sum=Sum("quantity", default=0))["sum"]
    assert held == Lot.objects.get(pk=mine.pk).reserved == 2
    with pytest.raises(ValidationError, match="Houses hold"):
        end_leave(organisation=organisation, user=user, leave=leave, reason="needed")
    row = Reservation.objects.filter(lot__isnull=False).first()
    with pytest.raises(IntegrityError, match="reservation_with_leave"), transaction.atomic():
        Reservation.objects.create(
            organisation=organisation,
            plan=row.plan,
            house=row.house,
            lot=mine,
            purpose=row.purpose,
            quantity=3,
            need_by=row.need_by,
        )


def test_a_plan_whose_leave_has_ended_holds_nothing(season, user, organisation, mine):
    leave = record_leave(organisation=organisation, user=user, lot=mine, quantity=90, told="by telephone")
    plan = worked_out(season, user)
    _, result = plan.snapshot()
    used = {row.lot for row in (*result.allocations, *result.layouts) if row.lot}
    end_leave(organisation=organisation, user=user, leave=leave, reason="needed elsewhere")
    assert mine.reference in used
    with pytest.raises(NotReserved):
        accept_plan(organisation=organisation, user=user, plan=plan)
    assert not Reservation.objects.exists()
    assert not Leave.objects.standing().exists()
