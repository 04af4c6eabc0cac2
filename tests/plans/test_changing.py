"""A house changes after its orders went out: what that is in money and days, and one act that sets it right."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from openpyxl import load_workbook

from farmbuild.buying.models import LessWanted, PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.selectors import less_wanted
from farmbuild.buying.services import Arrival, receive_goods, send_order
from farmbuild.common.templatetags.farm import money
from farmbuild.plans.balance import balances
from farmbuild.plans.changing.services import accept_change, plan_change
from farmbuild.plans.house_changes import Kind, change_of
from farmbuild.plans.models import Plan
from farmbuild.plans.services import work_out_plan
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot
from tests.factories import FOOT, MembershipFactory
from tests.plans.small_season import AS_OF
from tests.reading import text_of

pytestmark = pytest.mark.django_db
LATER = AS_OF + timedelta(days=1)


@pytest.fixture
def sent(accepted, user) -> Plan:
    """The order of pipe went out; that of boards and screws did not."""
    order = accepted.orders.get(number="1-1")
    send_order(organisation=accepted.organisation, user=user, order=order, sent_on=AS_OF, how="by hand")
    return accepted


def changed(house: str, user, *, hoops: int, as_of: date = LATER) -> Plan:
    """The house so many hoops longer, and its plan worked out again."""
    row = House.objects.get(slug=house)
    House.objects.filter(pk=row.pk).update(length=row.length + FOOT * 4 * hoops)
    row.refresh_from_db()
    plan = plan_change(organisation=row.organisation, user=user, house=row, as_of=as_of).plan
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


def rows_of(change, kind, material=None):
    return [row for row in change.rows if row.kind is kind and material in (None, row.material)]


def test_the_change_is_planned_with_the_other_houses_of_its_plan(sent, season, user):
    new = changed("north-1", user, hoops=6)
    assert set(new.houses.all()) == set(season.houses) and new.delivery_site == sent.delivery_site
    assert [plan.pk for plan in change_of(plan=new).replaced] == [sent.pk]


def test_six_hoops_more_buy_one_pack_and_delivery(signed_in, sent, user):
    """Twelve sticks more; 40 went out for 32, so 8 lie free on the order and a pack of 10 is bought for the other 4."""
    line = PurchaseOrderLine.objects.get(material__code="rail")
    assert (line.needed, line.quantity) == (32, 40)
    change = change_of(plan=changed("north-1", user, hoops=6))
    [rail] = rows_of(change, Kind.MORE, "rail")
    assert (rail.quantity, rail.money, rail.supplier) == (10, Decimal("133.35"), "Invented Pipe")
    [delivery] = [row for row in rows_of(change, Kind.MORE, "") if row.supplier == "Invented Pipe"]
    assert (delivery.money, delivery.pieces, rail.pieces) == (85, None, 10)
    row = text_of(signed_in.get("/plans/2/change/")).partition("Delivery")[2].partition("</tr>")[0]
    assert "–" in row and not re.search(r">\s*0\s*<", row)
    # The free sticks go to the house that needs them first.
    assert (rail.need_by, rail.day, rail.late_days) == (date(2027, 5, 20), date(2027, 5, 20), 0)
    assert rows_of(change, Kind.SENT) == []


@pytest.mark.parametrize("hoops", [6, 1, -2, -5])
def test_the_money_adds_up_two_ways(sent, user, hoops):
    """Rows of what is not sent sum up to the difference of the orders; the parts to the rows."""
    new = changed("north-1", user, hoops=hoops)
    change = change_of(plan=new)
    drafts = PurchaseOrder.objects.filter(plan=sent, state="draft")
    assert change.before == sum(order.total for order in drafts) > 0
    assert change.after == sum(order.total for order in new.snapshot()[1].orders)
    assert change.more - change.less == change.after - change.before
    assert change.more + change.less + change.to_ask + change.lies_over == sum(row.money for row in change.rows)
    for row in rows_of(change, Kind.SENT):
        line = PurchaseOrderLine.objects.get(pk=row.line)
        assert row.money == round(row.quantity * line.unit_price, 2)
    for row in rows_of(change, Kind.YARD):
        assert row.money == row.quantity * Lot.objects.get(pk=row.lot).unit_cost


def test_what_went_out_and_is_too_much_gets_a_note_for_the_supplier(signed_in, sent, user):
    organisation = sent.organisation
    line = PurchaseOrderLine.objects.get(material__code="rail")
    new = changed("north-1", user, hoops=-5)
    change = change_of(plan=new)
    [rail] = rows_of(change, Kind.SENT, "rail")
    # Five hoops of two sticks fewer, of what houses hold on the line.
    assert (rail.quantity, rail.order, rail.line) == (10, "1-1", line.pk)
    accept_change(organisation=organisation, user=user, plan=new, seen=change.seen)
    line.refresh_from_db()
    assert line.reserved == 32 - 10
    note = LessWanted.objects.get(line=line)
    assert (note.quantity, note.plan_id, note.made_by) == (10, new.pk, user)
    assert [row.free for row in less_wanted(order=line.order) if row.line_id == line.pk] == [10]
    page = text_of(signed_in.get("/orders/1-1/"))
    assert "To tell Invented Pipe" in page and "10 fewer of 40" in page and "since plan 2" in page
    # What came is not asked back: of 40, 35 are there.
    receive_goods(
        organisation=organisation,
        user=user,
        order=line.order,
        arrivals=[Arrival(line.pk, 35)],
        received_on=date(2027, 4, 1),
        token="35 of 40",
        place="Rack 1",
    )
    order = PurchaseOrder.objects.get(number="1-1")
    assert [row.free for row in less_wanted(order=order) if row.line_id == line.pk] == [5]


def test_accepted_it_leaves_nothing_to_find_and_orders_what_the_page_said(sent, season, user):
    organisation = sent.organisation
    new = changed("north-1", user, hoops=6)
    change = change_of(plan=new)
    accept_change(organisation=organisation, user=user, plan=new, seen=change.seen)
    for balance in balances(organisation=organisation, houses=season.houses).values():
        assert not balance.short and not balance.held_too_much
    states = dict(PurchaseOrder.objects.values_list("number", "state"))
    assert states == {"1-1": "sent", "1-2": "cancelled", "2-1": "draft", "2-2": "draft"}
    assert sum(order.total for order in new.orders.all()) == change.after
    assert not LessWanted.objects.exists()


def test_pressed_twice_counts_once(signed_in, sent, user):
    new = changed("north-1", user, hoops=-5)
    seen = change_of(plan=new).seen
    assert signed_in.post("/plans/2/change/", {"seen": seen}).url == "/plans/2/"
    orders, notes = PurchaseOrder.objects.count(), LessWanted.objects.count()
    page = text_of(signed_in.post("/plans/2/change/", {"seen": seen}, follow=True))
    assert "Plan 2 is accepted already." in page
    assert (PurchaseOrder.objects.count(), LessWanted.objects.count()) == (orders, notes) and notes > 0
    assert new.orders.count() > 0


def test_what_happens_meanwhile_is_said_and_nothing_is_done(signed_in, sent, user):
    new = changed("north-1", user, hoops=6)
    seen = change_of(plan=new).seen
    send_order(
        organisation=sent.organisation,
        user=user,
        order=sent.orders.get(number="1-2"),
        sent_on=AS_OF,
        how="",
        as_it_is=True,
    )
    page = text_of(signed_in.post("/plans/2/change/", {"seen": seen}, follow=True))
    assert "has changed since this page was shown" in page
    with pytest.raises(ValidationError, match="order 1-2"):
        accept_change(organisation=sent.organisation, user=user, plan=new, seen=change_of(plan=new).seen)
    new.refresh_from_db()
    assert not new.is_accepted and new.orders.count() == 0


def test_what_comes_too_late_is_said_in_days(signed_in, sent, user):
    """Rail takes nine days; ordered on 15 May it is there on the 24th, twelve days after the first house needs it."""
    new = changed("north-1", user, hoops=6, as_of=date(2027, 5, 15))
    [rail] = rows_of(change_of(plan=new), Kind.MORE, "rail")
    assert (rail.need_by, rail.day, rail.late_days) == (date(2027, 5, 12), date(2027, 5, 24), 12)
    page = text_of(signed_in.get("/plans/2/change/"))
    assert "Too late." in page and "24 May 2027, 12 days late" in page


def test_the_pages_lead_from_the_house_to_the_change(signed_in, sent, user):
    held = "/houses/north-1/held/"
    assert "Work out the change" not in text_of(signed_in.get(held))
    House.objects.filter(slug="north-1").update(length=FOOT * 72)
    assert "Work out the change" in text_of(signed_in.get(held))
    assert signed_in.post("/houses/north-1/change/").url == "/plans/2/"
    work_out_plan(Plan.objects.get(number=2).pk)
    assert 'href="/plans/2/change/">See what changes' in text_of(signed_in.get("/plans/2/"))
    change = change_of(plan=Plan.objects.get(number=2))
    page = text_of(signed_in.get("/plans/2/change/"))
    for amount in (change.more, change.less, change.before, change.after):
        assert money(amount, sent.organisation) in page
    assert page.count('class="action"') == 1 and "Accepting releases plan 1" in page
    # Pressed again it is the same plan.
    assert signed_in.post("/houses/north-1/change/").url == "/plans/2/change/"


def test_a_house_in_no_accepted_plan_has_nothing_to_change(signed_in, ready):
    page = text_of(signed_in.post("/houses/north-1/change/", follow=True))
    assert "is in no accepted plan, so there is nothing to change" in page
    assert Plan.objects.count() == 1


def test_nobody_sees_or_accepts_the_change_of_others(client, sent, user):
    new = changed("north-1", user, hoops=6)
    client.force_login(MembershipFactory().user)
    assert client.get("/plans/2/change/").status_code == 404
    assert client.post("/plans/2/change/", {"seen": change_of(plan=new).seen}).status_code == 404
    assert client.post("/houses/north-1/change/").status_code == 404
    assert not new.orders.exists()


def test_as_many_queries_for_many_drafts_and_lines(sent, user, django_assert_num_queries):
    new = changed("north-1", user, hoops=-5)
    change_of(plan=new)
    with CaptureQueriesContext(connection) as few:
        change_of(plan=new)
    line = PurchaseOrderLine.objects.filter(order__number="1-2").first()
    for number in range(8):
        line.pk, line.position, line.reserved = None, 50 + number, 0
        line.save()
    with django_assert_num_queries(len(few)):
        change_of(plan=new)


def test_the_spreadsheet_has_every_row_and_sums_what_happens(signed_in, client, sent, user):
    new = changed("north-1", user, hoops=-5)
    change = change_of(plan=new)
    answer = signed_in.get("/plans/2/change.xlsx")
    assert "change-2.xlsx" in answer["Content-Disposition"]
    rows = list(load_workbook(io.BytesIO(answer.content)).worksheets[0].values)[3:]
    body, sums = [row for row in rows if row[0] != "In all"], [row for row in rows if row[0] == "In all"]
    assert [(row[3], Decimal(str(row[9]))) for row in body] == [(row.pieces, row.money) for row in change.rows]
    assert {row[4] for row in body} == {row[4] for row in sums}
    assert all(str(row[9]).startswith("=SUMIF(") for row in sums)
    client.force_login(MembershipFactory().user)
    assert client.get("/plans/2/change.xlsx").status_code == 404
