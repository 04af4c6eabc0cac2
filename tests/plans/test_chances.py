"""The page of chances: lead times and spoil as they were recorded, house by house."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest
from django.urls import reverse

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.receiving import Arrival, receive_goods, reverse_receipt
from farmbuild.catalogue.models import Supplier
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.plans.chances.presenters import chances_shown
from farmbuild.plans.chances.selectors import recorded_leads, recorded_spoil
from farmbuild.plans.models import Plan
from farmbuild.plans.services import create_plan, work_out_plan
from tests.buying.sent_order import sent_order
from tests.factories import SupplierFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(season, user) -> Plan:
    found = create_plan(**season.ask(user)).plan
    work_out_plan(found.pk)
    return Plan.objects.get(pk=found.pk)


def shown(plan: Plan):
    season, result = plan.snapshot()
    return chances_shown(organisation=plan.organisation, season=season, result=result)


def came_after(days: int, supplier: Supplier, user) -> PurchaseOrder:
    """An order that came whole so many days after it was sent."""
    order = sent_order(supplier.organisation, 10, supplier=supplier)
    receive_goods(
        organisation=supplier.organisation,
        user=user,
        order=order,
        arrivals=[Arrival(order.lines.get().pk, 10)],
        received_on=order.sent_on + timedelta(days=days),
        place="Rack",
        token=f"t{order.pk}",
    )
    return order


def test_without_records_everything_comes_as_promised(client, plan, user):
    found = shown(plan)
    assert {row.chance for row in found.rows} == {100} and not found.is_recorded
    client.force_login(user)
    text = text_of(client.get(reverse("plans:in-time", args=[plan.number])))
    assert "No chance can be told yet: no supplier has delivered three whole orders." in text
    assert "as promised if ordered by" in text and "Fewer than 50 sticks were bent" in text and "of 100" not in text
    assert "Will it come in time?" in text_of(client.get(reverse("plans:plan", args=[plan.number])))


def test_a_supplier_who_was_late_in_one_of_four_is_late_in_one_of_four(client, plan, user):
    suppliers = [Supplier.objects.get(code=order.supplier) for order in plan.snapshot()[1].orders]
    late = suppliers[0]
    wait = (min(house.need_date for house in plan.houses.all()) - plan.as_of).days
    for days in (1, 2, 3, wait + 100):
        came_after(days, late, user)
    assert sorted(recorded_leads(organisation=plan.organisation)[late.code]) == [1, 2, 3, wait + 100]
    found = shown(plan)
    waiting = [row for row in found.rows if not row.sure]
    assert waiting and all(abs(row.chance - 75) <= 3 for row in waiting)
    assert found.order_by == min(row.need_date for row in waiting) - timedelta(days=wait + 100)
    client.force_login(user)
    text = text_of(client.get(reverse("plans:in-time", args=[plan.number])))
    assert f"{len(waiting)} of {len(found.rows)} houses may wait for materials." in text
    assert f"1 to {wait + 100} days in the last 4 orders" in text
    # Worked out again it is the same; were all soon, all would be sure.
    assert shown(plan) == found


def test_suppliers_who_came_soon_each_time_are_sure(client, plan, user):
    for order in plan.snapshot()[1].orders:
        for _ in range(3):
            came_after(1, Supplier.objects.get(code=order.supplier), user)
    client.force_login(user)
    text = text_of(client.get(reverse("plans:in-time", args=[plan.number])))
    assert "All houses have their materials in time in 95 of 100 such seasons." in text
    assert ": 1 day in the last 3 orders" in text


def test_two_deliveries_are_too_few_and_a_delivery_that_was_taken_back_is_none(plan, user):
    supplier = Supplier.objects.get(code=plan.snapshot()[1].orders[0].supplier)
    orders = [came_after(days, supplier, user) for days in (200, 300)]
    assert not shown(plan).is_recorded
    came_after(400, supplier, user)
    assert shown(plan).is_recorded
    receipt = orders[0].receipts.get()
    reverse_receipt(organisation=plan.organisation, user=user, receipt=receipt, reason="Typed by mistake")
    assert recorded_leads(organisation=plan.organisation)[supplier.code] == [400, 300]


def test_of_another_organisation_nothing_is_counted(plan, user):
    for days in (1, 2, 3):
        came_after(days, SupplierFactory(), None)
    assert recorded_leads(organisation=plan.organisation) == {}


def test_spoil_is_a_share_of_all_sticks_bent_once_they_are_fifty(organisation, monkeypatch):
    sums = {"issued": 49, "spoilt": 7}
    monkeypatch.setattr(type(HoopBatch.objects.of(organisation)), "aggregate", lambda self, **asked: sums)
    assert recorded_spoil(organisation=organisation) is None
    sums |= {"issued": 50}
    assert recorded_spoil(organisation=organisation) == Fraction(7, 50)
