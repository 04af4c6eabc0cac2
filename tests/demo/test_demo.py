"""The demo season before its work: loads once, plans to the letter the same, and writes what the database says."""

import json
from io import BytesIO

import pytest
from django.core.management import CommandError, call_command
from django.db.models import F
from openpyxl import load_workbook

from farmbuild.buying.models import PurchaseOrder, Receipt
from farmbuild.demo.bridge import files_of
from farmbuild.demo.services import PASSWORD, SCENARIO, _enter, load_demo
from farmbuild.plans.accepting import release_plan
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import changes_since
from farmbuild.stock.models import Lot, Reservation, StockCount
from farmbuild.stock.services import scrap
from tests.signing_in import signs_in

pytestmark = pytest.mark.django_db(transaction=True)


def test_what_an_earlier_version_left_half_loaded_is_finished_once():
    scenario = json.loads(SCENARIO.read_text(encoding="utf-8"))
    organisation = _enter(scenario)
    plan = Plan.objects.get(organisation=organisation)
    assert plan.accepted_at is None
    for _ in range(2):
        demo = load_demo()
        assert (demo.fresh, demo.plan.pk) == (False, plan.pk)
        plan.refresh_from_db()
        assert plan.accepted_at and PurchaseOrder.objects.filter(plan=plan).count() == 4
        assert Receipt.objects.count() == StockCount.objects.count() == 1
    # Released by somebody since, it stays so.
    release_plan(organisation=organisation, user=demo.user, plan=plan)
    held = Reservation.objects.count()
    load_demo()
    plan.refresh_from_db()
    assert plan.released_at and Reservation.objects.count() == held


def test_as_it_is_loaded(client):
    """Once, for all that is asked of it."""
    demo = load_demo()
    a_second_start_keeps_what_is_there(demo)
    needs_nothing_that_nobody_sells_and_nothing_is_late(demo.plan)
    spreadsheets_carry_the_stored_totals(demo)
    assert signs_in(client, demo.user.username, PASSWORD)
    goods_that_come_in_on_its_own_orders_do_not_outdate_the_plan(demo)


def a_second_start_keeps_what_is_there(first):
    second = load_demo()
    assert (first.fresh, second.fresh) == (True, False)
    assert first.plan.pk == second.plan.pk
    assert first.plan.result_digest == second.plan.result_digest != ""


def needs_nothing_that_nobody_sells_and_nothing_is_late(plan):
    assert plan.result["plan"]["unmet"] == []
    orders = PurchaseOrder.objects.filter(plan=plan)
    assert orders.count() == 4
    assert not orders.filter(lines__late_days__gt=0).exists()


def spreadsheets_carry_the_stored_totals(demo):
    totals = {order.number: order.total for order in PurchaseOrder.objects.filter(plan=demo.plan)}
    files = {file.name: file.data for file in files_of(demo.plan) if file.name.startswith("order-")}
    assert len(files) == len(totals)
    for name, data in files.items():
        number = next(number for number in totals if name.startswith(f"order-{number}-"))
        cells = [
            str(cell.value) for row in load_workbook(BytesIO(data)).active.iter_rows() for cell in row if cell.value
        ]
        assert any(number in cell for cell in cells)
    assert {"cut-list.xlsx", "take-off.xlsx", "leftovers.xlsx", "plan.json"} <= {
        file.name for file in files_of(demo.plan)
    }


def test_never_on_a_public_server(settings):
    settings.PUBLIC_HOSTS = ["houses.example.org"]
    with pytest.raises(CommandError, match="FARMBUILD_HOSTS"):
        call_command("demo", "--no-serve")


def goods_that_come_in_on_its_own_orders_do_not_outdate_the_plan(demo):
    assert Lot.objects.filter(receipt_lines__order_line__order__plan=demo.plan).exists()
    assert changes_since(plan=demo.plan) == []
    lot = Lot.objects.filter(reserved__lt=F("on_hand"), receipt_lines=None).first()
    scrap(organisation=demo.organisation, user=demo.user, lot=lot, quantity=1, reason="kinked")
    assert len(changes_since(plan=demo.plan)) == 1
