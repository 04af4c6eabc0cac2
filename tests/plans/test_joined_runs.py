"""Purlins of other lengths than the house says: held, handed out and counted until the house stands."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from farmbuild.catalogue.models import Material, Supplier
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.balance import BalanceRow, balances
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import changes_since
from farmbuild.sites.models import House
from farmbuild.stock.models import Reservation
from farmbuild.stock.services import issue_pieces
from tests.factories import FOOT, INCH, OfferFactory
from tests.plans.test_planning_again import again, send_and_receive

PURPOSE = "side purlins"


@pytest.fixture
def accepted(season, user) -> Plan:
    """Two houses with two side purlins each; sticks of 20 ft cost less for their length than those of 10 ft."""
    rail = Material.objects.get(code="rail")
    House.objects.update(
        purlin_material=rail, purlin_stick_length=FOOT * 10, purlin_insertion=INCH * 6, side_purlins=2, length=FOOT * 48
    )
    pipe = Supplier.objects.get(code="a-pipe")
    OfferFactory(supplier=pipe, material=rail, length=FOOT * 20, lead_days=9, price="18")
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return accept_plan(organisation=plan.organisation, user=user, plan=plan)


def purlins(organisation) -> list[BalanceRow]:
    found = balances(organisation=organisation, houses=list(House.objects.order_by("slug")))
    return [row for balance in found.values() for row in balance.rows if row.purpose == PURPOSE]


def figures(organisation) -> list[tuple[Decimal, ...]]:
    return [(row.needed, row.in_house, row.held, row.on_order, row.to_find) for row in purlins(organisation)]


def test_sticks_of_another_length_are_held_and_nothing_is_to_find(accepted, season):
    lengths = {row.length for row in accepted.snapshot()[1].takeoff if row.purpose == PURPOSE}
    assert FOOT * 20 in lengths
    assert changes_since(plan=accepted) == []
    # 2 runs of 5 sticks of 10 ft are what the house says.
    assert [(needed, to_find) for needed, *_, to_find in figures(season.organisation)] == [(10, 0)] * 2


def test_they_serve_when_they_are_in_the_house(accepted, season, user, signed_in):
    send_and_receive(accepted, user, 1)
    given = {"organisation": season.organisation, "user": user}
    holds = Reservation.objects.filter(lot__material__code="rail").order_by("pk")
    assert holds
    for hold in holds:
        issue_pieces(**given, lot=hold.lot, quantity=hold.quantity, reason="set", house=hold.house)
    assert figures(season.organisation) == [(10, 10, 0, 0, 0)] * 2
    found = balances(organisation=season.organisation, houses=list(House.objects.all()))
    assert not any(row.purpose == PURPOSE for balance in found.values() for row in balance.too_much)
    assert signed_in.get("/houses/north-1/held/").status_code == 200
    new = again(accepted, user, date(2027, 4, 2))
    assert not any(gap.length == FOOT * 20 for gap in new.snapshot()[1].shortfalls)
    for page in ("", "needs/", "needs/north-1/", "cutting/", "leftovers/", "orders/"):
        assert signed_in.get(f"/plans/{new.number}/{page}").status_code == 200, page


@pytest.mark.parametrize(("own", "taken"), [(10, 20), (20, 10)])
def test_what_their_joints_take_is_needed_and_held_as_the_plan_has_it(season, user, own, taken):
    """Sticks of 20 ft for runs that say 10 ft have fewer joints, those of 10 ft for 20 ft more."""
    rail = Material.objects.get(code="rail")
    House.objects.update(
        purlin_material=rail,
        purlin_stick_length=FOOT * own,
        purlin_insertion=INCH * 6,
        side_purlins=2,
        length=FOOT * 48,
    )
    pipe = Supplier.objects.get(code="a-pipe")
    OfferFactory(supplier=pipe, material=rail, length=FOOT * taken, lead_days=9, price="1")
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    accept_plan(organisation=plan.organisation, user=user, plan=plan)
    takeoff = plan.snapshot()[1].takeoff
    assert {row.length for row in takeoff if row.purpose == PURPOSE} == {FOOT * taken}
    planned = {row.house: row for row in takeoff if row.purpose == "joint screws"}
    change = "fewer" if own < taken else "more"
    found = balances(organisation=season.organisation, houses=season.houses).values()
    for balance in found:
        (screws,) = [row for row in balance.rows if row.purpose == "joint screws"]
        assert change in planned[screws.house].working
        assert screws.needed == planned[screws.house].quantity
        assert screws.to_find == 0 and not balance.held_too_much
