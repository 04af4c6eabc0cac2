"""A plan that is only tried orders and holds nothing; accepted it has orders, and of two options one alone."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from importlib import import_module

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from openpyxl import load_workbook

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import first_to_send
from farmbuild.buying.services import record_orders, send_order
from farmbuild.catalogue.models import Supplier
from farmbuild.common.templatetags.farm import money
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan, release_house, release_plan
from farmbuild.plans.balance import balances
from farmbuild.plans.models import Plan
from farmbuild.stock.models import Reservation
from tests.factories import MembershipFactory
from tests.plans.small_season import AS_OF
from tests.reading import text_of

pytestmark = pytest.mark.django_db
DRAFT, SENT, CANCELLED = "draft", "sent", "cancelled"


def option(season, user, day, **changed) -> Plan:
    plan = services.create_plan(**season.ask(user, as_of=date(2027, 3, day), **changed)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


def states(plan) -> dict[str, str]:
    return dict(PurchaseOrder.objects.filter(plan=plan).values_list("number", "state"))


def send(order, user):
    return send_order(organisation=order.organisation, user=user, order=order, sent_on=AS_OF, how="by hand")


def test_three_options_order_and_hold_nothing(signed_in, season, user):
    for day in (1, 2, 3):
        option(season, user, day)
    assert Plan.objects.count() == 3
    assert not PurchaseOrder.objects.exists() and not Reservation.objects.exists()
    assert first_to_send(organisation=season.organisation, today=AS_OF) is None
    assert "There are no orders yet." in text_of(signed_in.get("/orders/"))


def test_a_tried_plan_shows_what_it_would_order(signed_in, ready):
    orders = ready.snapshot()[1].orders
    for address in ("/plans/1/", "/plans/1/orders/"):
        page = text_of(signed_in.get(address))
        for order in orders:
            assert f"{order.total:,.2f}" in page
        assert "trial 1-1" in page and 'href="/plans/1/trial/1-2.xlsx"' in page
    assert f"{sum(order.total for order in orders):,.2f}" in text_of(signed_in.get("/plans/"))
    assert "not accepted yet" in text_of(signed_in.get("/plans/"))


def test_trial_spreadsheets_say_that_nothing_is_ordered(signed_in, accepted, user, season):
    tried = option(season, user, 2)
    answer = signed_in.get(f"/plans/{tried.number}/orders.zip")
    assert "trial-orders-2.zip" in answer["Content-Disposition"]
    packed = zipfile.ZipFile(io.BytesIO(answer.content))
    assert [name.startswith("trial-order-2-") for name in packed.namelist()] == [True, True]
    for name in packed.namelist():
        rows = [cell for row in load_workbook(packed.open(name)).worksheets[0].values for cell in row if cell]
        assert any("nothing is ordered by this" in str(cell) for cell in rows)
        assert not any("Purchase order" in str(cell) or "send this sheet back" in str(cell) for cell in rows)
    one = signed_in.get(f"/plans/{tried.number}/trial/2-1.xlsx")
    assert one.content == packed.read(packed.namelist()[0])
    assert signed_in.get(f"/plans/{tried.number}/trial/2-9.xlsx").status_code == 404
    # An accepted plan's are orders, to the letter as those on the pages of the orders.
    packed = zipfile.ZipFile(io.BytesIO(signed_in.get("/plans/1/orders.zip").content))
    assert [packed.read(name) for name in packed.namelist()] == [
        signed_in.get(f"/orders/{number}/order.xlsx").content for number in ("1-1", "1-2")
    ]


def test_accepting_twice_writes_the_orders_once(signed_in, ready):
    for _ in range(2):
        signed_in.post("/plans/1/accept/")
    assert states(ready) == {"1-1": DRAFT, "1-2": DRAFT}


def test_a_supplier_renamed_meanwhile_is_said_and_nothing_is_held(ready, user):
    Supplier.objects.filter(code="a-pipe").update(code="renamed")
    with pytest.raises(ValidationError, match="a-pipe has been removed or has another short name"):
        accept_plan(organisation=ready.organisation, user=user, plan=ready)
    assert not PurchaseOrder.objects.exists() and not Reservation.objects.exists()
    assert Plan.objects.get().accepted_at is None


def test_of_two_options_the_second_replaces_the_first_in_words(signed_in, season, user):
    one, two = option(season, user, 1), option(season, user, 2)
    for plan in (one, two):
        signed_in.post(f"/plans/{plan.number}/accept/")
    assert states(one) == {"1-1": CANCELLED, "1-2": CANCELLED}
    assert states(two) == {"2-1": DRAFT, "2-2": DRAFT}
    assert "cancelled: plan 2 was accepted instead" in text_of(signed_in.get("/orders/1-1/"))
    assert set(Reservation.objects.values_list("plan", flat=True)) == {two.pk}


def test_an_option_does_not_buy_again_what_went_out(signed_in, season, user):
    one, two = option(season, user, 1), option(season, user, 2)
    organisation = season.organisation
    accept_plan(organisation=organisation, user=user, plan=one)
    sent = send(one.orders.get(number="1-1"), user)
    page = text_of(signed_in.post("/plans/2/accept/", follow=True))
    assert f"order 1-1 to Invented Pipe ({money(sent.total, organisation)}), which went out for the same houses" in page
    assert states(one) == {"1-1": SENT, "1-2": DRAFT} and states(two) == {}
    # Nor when the first is let go of: what comes is free for the houses, and the option does not know of it.
    release_plan(organisation=organisation, user=user, plan=one)
    with pytest.raises(ValidationError, match="order 1-1"):
        accept_plan(organisation=organisation, user=user, plan=two)
    again = option(season, user, 3)
    accept_plan(organisation=organisation, user=user, plan=again)
    assert {order.supplier.code for order in again.orders.select_related("supplier")} == {"b-yard"}


def test_a_released_plan_keeps_what_went_out_and_orders_the_rest_again(accepted, user):
    organisation = accepted.organisation
    sent = send(accepted.orders.get(number="1-1"), user)
    before = accepted.orders.get(number="1-2")
    release_plan(organisation=organisation, user=user, plan=accepted)
    assert states(accepted) == {"1-1": SENT, "1-2": CANCELLED}
    assert accepted.orders.get(number="1-2").cancel_reason == "plan 1 was released"
    accept_plan(organisation=organisation, user=user, plan=accepted)
    assert states(accepted) == {"1-1": SENT, "1-2": CANCELLED, "1-2-2": DRAFT}
    again = accepted.orders.get(number="1-2-2")
    assert (again.total, again.supplier) == (before.total, before.supplier)
    send(again, user)
    assert sum(order.total for order in accepted.orders.filter(state=SENT)) == sum(
        order.total for order in accepted.snapshot()[1].orders
    )
    assert sent.pk in accepted.orders.values_list("pk", flat=True)


def test_the_last_house_that_is_released_cancels_the_drafts(accepted, user, season):
    north, creek = season.houses
    release_house(organisation=accepted.organisation, user=user, house=north)
    assert states(accepted) == {"1-1": DRAFT, "1-2": DRAFT}
    release_house(organisation=accepted.organisation, user=user, house=creek)
    assert set(states(accepted).values()) == {CANCELLED}


def test_drafts_of_plans_that_are_not_accepted_are_cancelled_by_the_migration(accepted, user, season):
    tried = option(season, user, 2)
    record_orders(
        organisation=tried.organisation,
        plan=tried.pk,
        plan_number=tried.number,
        delivery_site=tried.delivery_site,
        orders=tried.snapshot()[1].orders,
        currency="USD",
    )
    went = send(tried.orders.get(number="2-1"), user)
    import_module("farmbuild.buying.migrations.0006_orders_of_accepted_plans").cancel(apps, None)
    assert states(tried) == {"2-1": SENT, "2-2": CANCELLED} and went.plan_id == tried.pk
    note = tried.orders.get(number="2-2")
    assert note.cancel_reason == "plan 2 is not accepted, and only accepted plans order" and note.cancelled_at
    assert states(accepted) == {"1-1": DRAFT, "1-2": DRAFT}


def test_the_migration_sums_up_what_each_plan_orders(accepted):
    Plan.objects.update(order_count=None, order_total=None, first_order_by=None)
    import_module("farmbuild.plans.migrations.0003_orders_in_figures").fill(apps, None)
    now = Plan.objects.get()
    figures = accepted.order_count, accepted.order_total, accepted.first_order_by
    assert (now.order_count, now.order_total, now.first_order_by) == figures and figures[0] == 2


def test_trials_of_others_are_not_found(client, ready):
    client.force_login(MembershipFactory().user)
    assert client.get("/plans/1/trial/1-1.xlsx").status_code == 404


def test_a_draft_that_another_house_needs_stays_and_serves_the_next_plan(season, user):
    """North alone is planned again: the drafts stay for Creek, and what North held of them is not bought again."""
    north, creek = season.houses
    given = {"organisation": season.organisation, "user": user}
    both = accept_plan(**given, plan=option(season, user, 1))
    alone = option(season, user, 2, houses=[north])
    assert alone.order_count == 0
    accept_plan(**given, plan=alone)
    drafts = both.orders.filter(state=PurchaseOrder.State.DRAFT)
    assert drafts.count() == 2
    found = balances(organisation=season.organisation, houses=season.houses)
    assert not any(one.short or one.held_too_much for one in found.values())
    # Creek is let go: what North holds of the drafts keeps them, until it is let go too.
    release_house(**given, house=creek)
    assert drafts.count() == 2
    release_house(**given, house=north)
    assert not Reservation.objects.exists() and not drafts.exists()
    assert set(states(both).values()) == {CANCELLED}


def test_a_released_plan_whose_draft_another_house_needed_is_accepted_again(season, user):
    """What it writes anew, and the draft that stayed for North, are its own again and are not cancelled on the way."""
    north, creek = season.houses
    given = {"organisation": season.organisation, "user": user}
    both = accept_plan(**given, plan=option(season, user, 1))
    alone = accept_plan(**given, plan=option(season, user, 2, houses=[north]))
    release_house(**given, house=creek)
    both.refresh_from_db()
    assert both.released_at and set(states(both).values()) == {DRAFT}
    again = accept_plan(**given, plan=both)
    assert again.is_accepted and set(states(both).values()) == {DRAFT}
    alone.refresh_from_db()
    assert alone.released_at
    found = balances(organisation=season.organisation, houses=season.houses)
    assert not any(one.short for one in found.values())
