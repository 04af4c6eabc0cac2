"""Holds of houses on a lot or an order line: whose go first, and what stays held for another house."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from farmbuild.buying.reserving.services import (
    attach_to_lines,
    detach_from_lots,
    move_reservations_to_lots,
    release_lines,
)
from farmbuild.plans.balance import still_to_find
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.stock.issued import issued_to
from farmbuild.stock.ledger import reverse
from farmbuild.stock.models import Reservation
from farmbuild.stock.owners.services import record_leave
from farmbuild.stock.reserving.consuming import consume
from farmbuild.stock.reserving.services import (
    NewReservation,
    ReservedPiece,
    attach_reservations,
    detach_reservations,
    reserve,
)
from farmbuild.stock.services import issue_pieces, return_pieces
from tests.buying.sent_order import sent_order
from tests.factories import HouseFactory, LotFactory, MemberFactory, SiteFactory

pytestmark = pytest.mark.django_db


class Held:
    """An accepted plan of two houses, and a lot of 20."""

    def __init__(self, organisation, user):
        self.site = SiteFactory(organisation=organisation)
        self.north, self.creek = (HouseFactory(site=self.site, name=name) for name in ("North", "Creek"))
        self.lot = LotFactory(organisation=organisation, on_hand=20)
        self.plan = Plan.objects.create(
            organisation=organisation, number=1, name="Spring", state=Plan.State.READY, as_of=date(2027, 2, 1),
            delivery_site=self.site, inputs={}, inputs_digest="1", result={}, result_digest="1",
            accepted_at=timezone.now(), accepted_by=user,
        )  # fmt: skip
        for house in (self.north, self.creek):
            PlanHouse.objects.create(plan=self.plan, house=house, accepted=True)

    def hold(self, quantity, day, house=None, pieces=(), **where):
        where = where or {"lot": self.lot.pk}
        one = NewReservation(quantity, (house or self.north).pk, "hoops", day, pieces=pieces, **where)
        [row] = reserve(organisation=self.plan.organisation_id, plan=self.plan.pk, user=None, wanted=[one])
        return row

    @staticmethod
    def left(**which):
        return [*Reservation.objects.filter(**which).order_by("need_by").values_list("need_by__day", "quantity")]


@pytest.fixture
def held(organisation, user):
    return Held(organisation, user)


MAY = [date(2027, 5, day) for day in range(1, 29)]


def test_what_is_needed_first_is_taken_first_whatever_was_held_first(held):
    held.hold(3, MAY[19])
    held.hold(4, MAY[9])
    used = consume(lot=held.lot, house=held.north, quantity=5)
    assert [(row.need_by.day, row.quantity) for row in used] == [(10, 4), (20, 1)]
    assert held.left() == [(20, 2)]


def test_a_stick_that_another_house_gets_pieces_of_stays_held(held):
    pieces = tuple(ReservedPiece(house.pk, "hoops", Decimal(600), 1) for house in (held.north, held.creek))
    held.hold(2, MAY[0], pieces=pieces)
    held.hold(5, MAY[9])
    consume(lot=held.lot, house=held.north, quantity=6)
    assert held.left() == [(1, 2)]


def test_of_two_holds_no_more_are_lifted_than_were_asked_for(held):
    held.hold(6, MAY[0])
    held.hold(5, MAY[9])
    lifted = detach_reservations(lot=held.lot, house=held.north, quantity=4)
    assert [one.wanted.quantity for one in lifted] == [4]
    assert held.left() == [(1, 2), (10, 5)]
    attach_reservations(lifted, lot=held.lot)
    held.lot.refresh_from_db()
    assert held.lot.reserved == 11


def test_leave_for_less_than_houses_hold_is_not_taken(held, organisation, user):
    own = {"organisation": organisation, "user": user, "told": "by telephone"}
    owner = MemberFactory(organisation=organisation)
    lot = LotFactory(organisation=organisation, on_hand=20, owner=owner, unit_cost=0)
    record_leave(**own, lot=lot, quantity=4)
    held.hold(3, MAY[0], lot=lot.pk)
    with pytest.raises(ValidationError, match="Houses hold 3 of lot"):
        record_leave(**own, lot=lot, quantity=2)
    assert record_leave(**own, lot=lot, quantity=3).quantity == 3


@pytest.fixture
def line(held):
    """Of 30 that are to come."""
    return sent_order(held.plan.organisation, 30).lines.get()


def test_what_came_goes_to_the_house_that_needs_it_first(held, line):
    came = LotFactory(organisation=held.plan.organisation, material=line.material, length=line.length, on_hand=20)
    held.hold(15, MAY[19], line=line.pk)
    held.hold(15, MAY[9], house=held.creek, line=line.pk)
    move_reservations_to_lots(arrived={line.pk: came})
    assert held.left(lot=came) == [(10, 15), (20, 5)]
    assert held.left(order_line=line) == [(20, 10)]


def test_what_came_wrongly_goes_back_to_its_line_where_there_is_room(held, line):
    came = LotFactory(organisation=held.plan.organisation, material=line.material, length=line.length, on_hand=20)
    held.hold(15, MAY[9], lot=came.pk)
    lifted = detach_from_lots(lots={came.pk: line.pk})
    held.hold(20, MAY[19], line=line.pk)
    with pytest.raises(ValidationError, match="hold 5 pieces more"):
        attach_to_lines(lifted)
    Reservation.objects.all().delete()
    held.hold(15, MAY[19], line=line.pk)
    attach_to_lines(lifted)
    assert held.left(order_line=line) == [(10, 15), (20, 15)]


def test_no_more_comes_back_to_a_hold_than_was_taken_of_it(held, organisation, user):
    own = {"organisation": organisation, "user": user, "lot": held.lot, "reason": ""}
    held.hold(5, MAY[0])
    issue_pieces(**own, quantity=8, house=held.north)
    for back, there in ((3, 3), (4, 5)):
        return_pieces(**own, quantity=back, house=held.north)
        assert sum(quantity for _, quantity in held.left()) == there


def test_what_an_issue_that_was_reversed_was_for_is_not_said_of_the_next(held, organisation, user):
    own = {"organisation": organisation, "user": user}
    given = {**own, "lot": held.lot, "quantity": 3, "house": held.north, "reason": "frame"}
    held.hold(3, MAY[0])
    wrong = issue_pieces(**given)
    # Its plan builds the house no more, so the hold does not come back with the pieces.
    PlanHouse.objects.filter(house=held.north).update(accepted=False)
    reverse(**own, movement=wrong, reason="wrong house")
    issue_pieces(**given)
    assert [(one.purpose, one.quantity) for one in issued_to(houses=[held.north.pk])] == [("", 3)]


def test_what_does_not_come_is_held_by_nobody(held, line):
    held.hold(15, MAY[19], line=line.pk)
    held.hold(3, MAY[0])
    assert release_lines(lines=[line.pk]) == 15
    assert held.left() == [(1, 3)]
    line.refresh_from_db()
    assert line.reserved == 0


def test_a_plan_that_is_only_tried_leaves_nothing_to_find(held, organisation):
    assert {house for _, house, _ in still_to_find(organisation=organisation)} == {held.north, held.creek}
    PlanHouse.objects.filter(house=held.creek).update(accepted=False)
    assert {house for _, house, _ in still_to_find(organisation=organisation)} == {held.north}
