"""Rows of a house's own are planned, ordered, received, held, handed out and left over like any other row."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db.models import Sum

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.services import Arrival, receive_goods, send_order
from farmbuild.crew.steps.selectors import releases_of_house
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.balance import balances
from farmbuild.plans.models import Plan
from farmbuild.plans.outdated import changed_houses
from farmbuild.plans.selectors import changes_since
from farmbuild.sites.outdated import outdated_of
from farmbuild.sites.services import save_house
from farmbuild.stock.cutting import cut_reserved
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.services import issue_pieces
from tests.factories import INCH, MaterialFactory, OfferFactory, SupplierFactory

LATH = 18 * INCH


@pytest.fixture
def house(season, user):
    """13 hoops: 26 straps for the film, and 6 laths of 18 in."""
    given = {"organisation": season.organisation}
    strap = MaterialFactory(**given, code="strap", name="Strap", kind="hardware")
    lath = MaterialFactory(**given, code="lath", name="Lath", kind="lumber")
    shop = SupplierFactory(**given, code="c-shop", name="Invented Shop")
    OfferFactory(supplier=shop, material=strap, length=None, pack=10, lead_days=3, price="0.5")
    OfferFactory(supplier=shop, material=lath, length=LATH * 4, pack=1, lead_days=3, price="2")
    rows = [
        {"material": strap, "quantity": Decimal(2), "per": "hoop", "step": "film", "note": "over the tape"},
        {"material": lath, "quantity": Decimal(3), "per": "end", "length": LATH},
    ]
    return save_house(**given, user=user, house=season.houses[0], data={}, own_rows=rows)


@pytest.fixture
def accepted(house, ready, user) -> Plan:
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


def rows_of(house) -> dict[str, tuple[Decimal, ...]]:
    """Needed, in the house, held, on order and to find, of its own rows by material."""
    balance = balances(organisation=house.organisation, houses=[house])[house.pk]
    return {
        row.material.code: (row.needed, row.in_house, row.held, row.on_order, row.to_find)
        for row in balance.rows
        if row.purpose.startswith("own rows")
    }


def test_they_go_the_way_of_every_row(accepted, house, user):
    given = {"organisation": accepted.organisation, "user": user}
    order = PurchaseOrder.objects.get(supplier__code="c-shop")
    lines = {line.material.code: line for line in order.lines.select_related("material")}
    # 26 straps are 3 packs of 10; 6 laths, with the saw cuts, are 3 to a stick of 6 ft.
    assert {code: (line.needed, line.quantity) for code, line in lines.items()} == {"strap": (26, 30), "lath": (2, 2)}
    assert rows_of(house) == {"strap": (26, 0, 0, 26, 0), "lath": (6, 0, 0, 6, 0)}
    # The film waits for the straps, and nothing for the laths.
    assert releases_of_house(house=house)["film"] == lines["strap"].due_on

    send_order(**given, order=order, sent_on=date(2027, 3, 2), how="by hand")
    arrivals = [Arrival(line.pk, line.quantity) for line in lines.values()]
    receive_goods(
        **given, order=order, arrivals=arrivals, received_on=date(2027, 3, 5), token=str(uuid4()), place="Rack 1"
    )
    assert rows_of(house) == {"strap": (26, 0, 26, 0, 0), "lath": (6, 0, 6, 0, 0)}
    held = Reservation.objects.filter(house=house, lot__material__code="strap")
    assert held.values_list("purpose", flat=True).distinct().get() == "own rows, film"

    issue_pieces(**given, lot=held.get().lot, quantity=26, reason="film", house=house)
    for sticks in Reservation.objects.filter(house=house, lot__material__code="lath"):
        cut_reserved(**given, reservation=sticks, sticks=sticks.quantity)
    assert rows_of(house)["strap"] == (26, 26, 0, 0, 0)
    assert rows_of(house)["lath"][0] == sum(rows_of(house)["lath"][1:3]) == 6
    # 4 straps of the last pack stay in the yard, and 2 offcuts of the laths.
    assert Lot.objects.filter(material__code="strap").aggregate(sum=Sum("on_hand"))["sum"] == 4


def test_what_they_were_needed_for_no_longer_lies_over(accepted, house, user):
    """The plan is out of date once they change, and what came for them is too much."""
    given = {"organisation": accepted.organisation, "user": user}
    assert changed_houses(organisation=accepted.organisation, plans=[accepted.pk]) == {}
    own = [
        {"material": row.material, "quantity": row.quantity, "per": row.per, "length": row.length, "step": row.step}
        for row in house.own_rows.select_related("material")
    ]
    own[0]["quantity"] = Decimal(1)
    house = save_house(**given, house=house, data={}, own_rows=own)
    assert changed_houses(organisation=accepted.organisation, plans=[accepted.pk]) == {accepted.pk: ["North 1"]}
    assert next(row.name for row in outdated_of(house=house)) == str(accepted)
    assert any("strap for each hoop" in told for told in changes_since(plan=accepted))
    assert rows_of(house)["strap"] == (13, 0, 0, 13, 0)
    balance = balances(organisation=accepted.organisation, houses=[house])[house.pk]
    assert [(row.material, row.quantity) for row in balance.held_too_much] == [("strap", 13)]


def test_what_nobody_offers_is_said_by_the_plan_with_its_row(season, user):
    rare = MaterialFactory(organisation=season.organisation, code="rare", name="Rare", kind="hardware")
    long = MaterialFactory(organisation=season.organisation, code="long", name="Long", kind="lumber")
    yard = SupplierFactory(organisation=season.organisation, code="d-yard", name="Invented Yard")
    OfferFactory(supplier=yard, material=long, length=LATH * 2, price="2")
    rows = [
        {"material": rare, "quantity": Decimal(1), "per": "house"},
        {"material": long, "quantity": Decimal(1), "per": "house", "length": LATH * 3},
    ]
    save_house(organisation=season.organisation, user=user, house=season.houses[0], data={}, own_rows=rows)
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    told = {row.material: (row.quantity, row.purpose) for row in plan.snapshot()[1].unmet}
    assert told == {"rare": (1, "own rows"), "long": (1, "own rows")}


def test_an_accepted_plan_holds_them_for_their_house_alone(accepted, house):
    lines = PurchaseOrderLine.objects.filter(material__code__in=["strap", "lath"])
    assert {held.house_id for held in Reservation.objects.filter(order_line__in=lines)} == {house.pk}
