"""What is there, comes, is held and wanted by day, from rows to the page."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django.utils.html import strip_tags

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.services import send_order
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.availability.bridge import Cause
from farmbuild.plans.availability.selectors import things_of
from farmbuild.plans.models import Plan
from farmbuild.plans.reserving.services import release
from farmbuild.sites.models import House
from farmbuild.stock.models import Reservation
from tests.factories import FOOT, LotFactory, MaterialFactory, MembershipFactory
from tests.plans.small_season import AS_OF, small_season

pytestmark = pytest.mark.django_db
NEED_1, NEED_2 = date(2027, 5, 12), date(2027, 5, 20)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args, **more: AS_OF)


@pytest.fixture
def season(organisation):
    return small_season(organisation)


@pytest.fixture
def ready(season, user):
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


@pytest.fixture
def accepted(ready, user):
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


def text_of(answer) -> str:
    return " ".join(strip_tags(re.sub(r"(?s)<(script|style|svg).*?</\1>", "", answer.content.decode())).split())


def rail_of(organisation, **more):
    found = things_of(organisation=organisation, today=AS_OF, **more)
    return next(thing for thing in found if thing.material.code == "rail" and thing.length == FOOT * 10)


def test_an_accepted_plan_runs_short_until_its_orders_are_sent(accepted, user):
    organisation = accepted.organisation
    line = PurchaseOrderLine.objects.get(material__code="rail")
    rail = rail_of(organisation)
    assert (rail.on_hand, rail.held, rail.incoming, rail.demand) == (20, 20, 0, line.needed)
    assert (rail.outlook.most_short, rail.outlook.balance) == (line.needed, -line.needed)
    assert rail.outlook.short_on in (NEED_1, NEED_2)
    # The one offer of rail takes nine days.
    last = rail.outlook.order_by
    assert (last.day, last.supplier) == (rail.outlook.short_on - timedelta(days=9), "Invented Pipe")
    for order in PurchaseOrder.objects.all():
        send_order(organisation=organisation, user=user, order=order, sent_on=AS_OF, how="by hand")
    rail = rail_of(organisation)
    assert (rail.incoming, rail.demand) == (line.quantity, 0)
    assert rail.outlook.short_on is None and rail.outlook.balance == line.quantity - line.needed
    PurchaseOrderLine.objects.filter(pk=line.pk).update(promised_on=NEED_2 + timedelta(days=30))
    late = rail_of(organisation)
    assert late.outlook.short_on is not None and late.outlook.balance == line.quantity - line.needed


def test_a_ready_plan_counts_only_when_asked(ready):
    organisation = ready.organisation
    assert rail_of(organisation).outlook.short_on is None
    counted = rail_of(organisation, plan=ready)
    [line] = [line for order in ready.snapshot()[1].orders for line in order.lines if line.material == "rail"]
    assert counted.demand == 20 + line.needed and counted.outlook.most_short == line.needed
    assert not PurchaseOrder.objects.exists()


def test_what_a_house_needs_since_its_plan_was_accepted_is_wanted(accepted, season):
    House.objects.filter(slug="north-1").update(length=FOOT * 52)
    rail = rail_of(accepted.organisation)
    [found] = [step.change for step in rail.outlook.steps if "neither held nor on order" in step.change.note]
    # One hoop of two sticks more.
    assert (found.day, found.quantity, found.cause) == (NEED_1, 2, Cause.DEMAND)


def test_a_hold_that_was_let_go_is_wanted_again(accepted, user):
    hold = Reservation.objects.filter(lot__reference="L-1", house__slug="north-1").first()
    before = rail_of(accepted.organisation).demand
    release(organisation=accepted.organisation, user=user, reservation=hold, quantity=4)
    assert rail_of(accepted.organisation).demand == before + 4


def test_the_pages_answer(signed_in, accepted):
    said = text_of(signed_in.get("/stock/availability/"))
    assert "runs short on 12 May 2027" in said and "Draft 1-1 to Invented Pipe brings" in said
    said = text_of(signed_in.get("/stock/availability/rail/"))
    quantity = PurchaseOrderLine.objects.get(material__code="rail").quantity
    assert re.search(r"Runs short on \d+ May 2027: \d+ sticks\.", said)
    assert f"Draft 1-1 to Invented Pipe brings {quantity:,}; send it by 3 May 2027." in said
    assert "(lead time 9 days)" not in said and "is not sent" in said and "short" in said
    assert "North 1 (plan 1)" in said
    post = signed_in.get("/stock/availability/post/")
    assert "Offcuts of 1-5/8 post" in text_of(post)
    assert b"<svg" in post.content and b"style=" not in post.content


def test_lateness_is_said(signed_in, accepted, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args, **more: date(2027, 5, 18))
    said = text_of(signed_in.get("/stock/availability/rail/"))
    assert "Draft 1-1 to Invented Pipe brings" in said and "it should have gone out by 3 May 2027" in said
    Reservation.objects.filter(order_line__isnull=False).delete()
    PurchaseOrder.objects.update(state="cancelled", cancel_reason="no", cancelled_at=timezone.now())
    said = text_of(signed_in.get("/stock/availability/rail/"))
    assert "Draft 1-1" not in said and "days ago: order today" in said


def test_a_ready_plan_is_counted_on_the_page(signed_in, ready):
    assert "Nothing runs short" in text_of(signed_in.get("/stock/availability/"))
    said = text_of(signed_in.get(f"/stock/availability/rail/?plan={ready.number}"))
    assert "not accepted" in said and "Runs short" in said


def test_a_quiet_material_does_not_run_short(signed_in, organisation):
    MaterialFactory(organisation=organisation, code="bare")
    assert "Does not run short: 0 sticks" in text_of(signed_in.get("/stock/availability/bare/"))
    LotFactory(material__organisation=organisation, material__code="full", on_hand=1)
    assert "1 stick is left" in text_of(signed_in.get("/stock/availability/full/?length=3048"))


@pytest.mark.parametrize("asked", ["9", "x", "NaN", "sNaN"])
def test_a_length_that_is_not_there_is_not_found(signed_in, organisation, asked):
    LotFactory(material__organisation=organisation, material__code="full")
    assert signed_in.get(f"/stock/availability/full/?length={asked}").status_code == 404


def test_nobody_sees_another_organisation(client, accepted):
    client.force_login(MembershipFactory().user)
    assert client.get("/stock/availability/rail/").status_code == 404
    said = text_of(client.get(f"/stock/availability/?plan={accepted.number}"))
    assert "rail" not in said and "Nothing is in stock" in said


def test_lengths_are_exact(organisation):
    metre, inch = Decimal(1000), Decimal("25.4")
    lot = LotFactory(material__organisation=organisation, length=metre)
    LotFactory(material=lot.material, length=inch * 40)
    found = things_of(organisation=organisation, today=AS_OF, material=lot.material)
    assert {thing.length for thing in found} == {metre, inch * 40}


def test_the_row_names_the_draft_that_covers_it_by_supplier_and_day(signed_in, accepted):
    row = signed_in.get("/stock/availability/").content.decode()
    assert '<a href="/orders/1-1/">draft 1-1</a>, Invented Pipe, send by 3 May 2027' in row
    assert "ordered or drafted" in row
    page = signed_in.get("/stock/availability/rail/").content.decode()
    assert 'class="action" href="/orders/1-1/">See draft 1-1' in page


def test_what_was_sent_and_comes_too_late_is_named_with_its_day(signed_in, accepted, user):
    organisation = accepted.organisation
    send_order(organisation=organisation, user=user, order=accepted.orders.get(number="1-1"), sent_on=AS_OF, how="post")
    assert rail_of(organisation).covers == ()
    late = NEED_2 + timedelta(days=30)
    PurchaseOrderLine.objects.filter(material__code="rail").update(promised_on=late)
    rail = rail_of(organisation)
    line = PurchaseOrderLine.objects.get(material__code="rail")
    assert [(c.order, c.supplier, c.quantity, c.sent, c.day) for c in rail.covers] == [
        ("1-1", "Invented Pipe", line.quantity, True, late)
    ]
    assert rail.to_order == 0
    said = text_of(signed_in.get("/stock/availability/rail/"))
    assert f"Order 1-1 from Invented Pipe brings {line.quantity:,} on 19 June 2027" in said


def test_what_no_order_covers_is_still_to_be_ordered(signed_in, accepted):
    """The house grows by one hoop of two sticks; what packs bring beyond the need of the draft is counted."""
    line = PurchaseOrderLine.objects.get(material__code="rail")
    over = line.quantity - line.needed
    assert rail_of(accepted.organisation).to_order == 0
    House.objects.filter(slug="north-1").update(length=FOOT * 4 * 30)
    rail = rail_of(accepted.organisation)
    assert rail.to_order == rail.demand - line.needed - over > 0
    said = text_of(signed_in.get("/stock/availability/rail/"))
    assert f"For {rail.to_order} sticks there is no order: order by" in said


def test_a_tried_plan_covers_nothing(signed_in, ready):
    rail = rail_of(ready.organisation, plan=ready)
    assert rail.outlook.short_on and rail.covers == () and rail.to_order > 0


def test_pages_take_as_many_queries_for_many_orders(signed_in, accepted, django_assert_num_queries):
    with CaptureQueriesContext(connection) as few:
        signed_in.get("/stock/availability/")
    for number in range(5):
        again = PurchaseOrderLine.objects.filter(material__code="rail").first()
        again.pk, again.position, again.reserved = None, 50 + number, 0
        again.save()
    with django_assert_num_queries(len(few)):
        signed_in.get("/stock/availability/")
