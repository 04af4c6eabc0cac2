"""The season line of a plan: orders on their own days, tried, sent and received; as few queries for many."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Receipt
from farmbuild.buying.services import send_order
from farmbuild.common.season_line import Sign
from farmbuild.plans import services
from farmbuild.plans.season.presenters import plan_line
from farmbuild.stock.models import Reservation
from tests.plans.small_season import AS_OF
from tests.reading import text_of

pytestmark = pytest.mark.django_db
TODAY = AS_OF + timedelta(days=2)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args, **more: TODAY)


def line_now(plan):
    plan.refresh_from_db()
    return plan_line(plan=plan, season=plan.snapshot()[0], result=plan.snapshot()[1])


def days(row, sign):
    return [flag.day for flag in row.flags if flag.sign is sign]


def test_a_tried_plan_shows_what_it_would_order_dashed(ready):
    line = line_now(ready)
    result = ready.snapshot()[1]
    assert [(days(row, Sign.ORDER_BY), days(row, Sign.DELIVERY)) for row in line.orders] == [
        ([order.order_by], sorted({line.need_by + timedelta(days=line.late_days) for line in order.lines}))
        for order in sorted(result.orders, key=lambda order: (order.order_by, order.supplier))
    ]
    assert all(row.open and "wait dash" in strip for row, strip in line.open_orders)
    assert {row.name: days(row, Sign.LIMIT) for row in line.rows} == {
        house.name: [house.need_date] for house in ready.houses.all()
    }
    assert [row.name for row in line.rows] == ["North 1", "Creek 1"]
    assert "not sent yet" in [words for _, words in line.legend]


def test_orders_stand_on_their_days_when_sent_promised_and_received(accepted, user):
    first, second = accepted.orders.order_by("order_by")
    send_order(organisation=accepted.organisation, user=user, order=first, sent_on=AS_OF, how="by hand")
    by_name = {row.name.split()[0]: row for row in line_now(accepted).orders}
    sent, draft = by_name[first.number], by_name[second.number]
    comes = sorted({line.need_by + timedelta(days=line.late_days) for line in first.lines.all()})
    assert (sent.since, days(sent, Sign.DELIVERY), days(sent, Sign.ORDER_BY)) == (AS_OF, comes, [])
    assert (days(draft, Sign.ORDER_BY), draft.open) == ([second.order_by], True)
    assert sent.href == first.get_absolute_url() and not sent.late
    # Promised for a day that has passed: late. Of what has come, the day on which it came.
    PurchaseOrderLine.objects.filter(order=first).update(promised_on=TODAY - timedelta(days=1))
    [sent] = [row for row in line_now(accepted).orders if row.name.startswith(first.number)]
    assert (sent.note, sent.late) == ("was due 2 Mar", True)
    came = TODAY - timedelta(days=1)
    given = {"organisation": accepted.organisation, "order": first, "received_on": came, "token": "t", "by": user}
    receipt = Receipt.objects.create(**given, number=1)
    PurchaseOrderLine.objects.filter(order=first).update(promised_on=date(2027, 5, 1))
    [part] = [row for row in line_now(accepted).orders if row.name.startswith(first.number)]
    assert days(part, Sign.DELIVERY) == [came, date(2027, 5, 1)] and part.note == "comes 1 May"
    # What is taken back has not come.
    Receipt.objects.create(**given | {"token": "u"}, number=2, reverses=receipt, reason="wrong order")
    [part] = [row for row in line_now(accepted).orders if row.name.startswith(first.number)]
    assert days(part, Sign.DELIVERY) == [date(2027, 5, 1)]


def test_a_draft_whose_day_has_passed_is_late(accepted):
    order = accepted.orders.order_by("order_by").first()
    PurchaseOrder.objects.filter(pk=order.pk).update(order_by=TODAY - timedelta(days=4))
    [row] = [row for row in line_now(accepted).orders if row.name.startswith(order.number)]
    assert (row.note, row.late) == ("4 days late", True)
    Reservation.objects.filter(order_line__isnull=False).delete()
    PurchaseOrder.objects.filter(pk=order.pk).update(state="cancelled", cancel_reason="no", cancelled_at=timezone.now())
    assert len(line_now(accepted).orders) == accepted.orders.count() - 1


def test_what_comes_late_even_sent_at_once_stands_on_the_day_it_comes(season, user):
    for house in season.houses:
        house.need_date = TODAY + timedelta(days=1)
        house.save()
    plan = services.create_plan(**season.ask(user, as_of=TODAY)).plan
    services.work_out_plan(plan.pk)
    [late, *_] = [row for row in line_now(plan).orders if row.late]
    # Nine days from today, and the need is for tomorrow.
    assert TODAY + timedelta(days=9) in days(late, Sign.DELIVERY) and late.note == "8 days late"


def test_the_plan_shows_the_line_before_the_table_and_answers_first(signed_in, ready):
    page = signed_in.get("/plans/1/")
    html = page.content.decode()
    assert html.index('class="season"') < html.index("<table") and ">today<" in html
    answer = re.sub(r"\s+", " ", re.sub("<[^>]*>", "", re.search(r'(?s)<p class="answer">(.*?)</p>', html)[1]))
    first = answer.replace("Tried. ", "").split(". ")[0]
    assert re.search(r"Short \d+ .*; order by \d+ \w+ 2027", first) and len(first.split()) <= 18
    assert 'class="name" href="/houses/north-1/"' in html and 'class="name" href="/plans/1/orders/"' in html
    assert "How good it is" in text_of(page)


def test_queries_do_not_grow_with_orders(accepted):
    with CaptureQueriesContext(connection) as few:
        line_now(accepted)
    order = accepted.orders.order_by("order_by").first()
    for n in range(30):
        order.pk, order.number, order._state.adding = None, f"1-9{n}", True
        order.supplier = type(order.supplier).objects.create(
            organisation=accepted.organisation, code=f"more-{n}", name=f"Invented {n}"
        )
        order.state = "draft"
        order.save()
    with CaptureQueriesContext(connection) as many:
        line = line_now(accepted)
    assert len(many) == len(few) and len(line.orders) == 32 and len(line.folded_orders) == 24
