"""The page of orders: what goes out, by week, with its spreadsheets and the plans beside."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import unescape
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from openpyxl import load_workbook

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import MOST_TO_SEND
from farmbuild.buying.sending import cancel_order
from farmbuild.buying.to_send import weeks_to_send
from tests.factories import MembershipFactory
from tests.quality.test_query_counts import more_orders
from tests.reading import text_of

pytestmark = pytest.mark.django_db
MONDAY = date(2087, 1, 6)
PLACES = re.compile(r'<nav class="places".*?</nav>', re.S)


def links(page: str) -> list[str]:
    return [unescape(href) for href in re.findall(r'<a [^>]*?href="(.*?)"', page)]


def weeks(organisation, today=MONDAY):
    found, more = weeks_to_send(organisation=organisation, today=today)
    return [(week.first, [order.number for order in week.orders], week.late) for week in found], more


def test_two_presses_lead_from_the_first_page_to_the_workbook_of_any_order(signed_in, ready):
    first = signed_in.get("/", follow=True)
    places = links(PLACES.search(first.content.decode())[0])
    assert len(places) == 5 and "/orders/" in places
    pressed = links(text_of(signed_in.get("/orders/")))
    numbers = list(PurchaseOrder.objects.values_list("number", flat=True))
    assert len(numbers) == 2
    for number in numbers:
        address = f"/orders/{number}/order.xlsx"
        assert address in pressed
        assert load_workbook(BytesIO(signed_in.get(address).content)).sheetnames


def test_orders_to_send_stand_by_the_week_of_their_day(organisation, ready):
    one, two = PurchaseOrder.objects.order_by("number")
    for order, day in ((one, MONDAY + timedelta(days=6)), (two, MONDAY + timedelta(days=7))):
        PurchaseOrder.objects.filter(pk=order.pk).update(order_by=day)
    later = MONDAY + timedelta(days=7)
    assert weeks(organisation) == ([(MONDAY, [one.number], False), (later, [two.number], False)], False)
    # A week is late when its last order should have gone.
    assert [late for _, _, late in weeks(organisation, MONDAY + timedelta(days=7))[0]] == [True, False]
    PurchaseOrder.objects.update(order_by=MONDAY)
    assert weeks(organisation) == ([(MONDAY, [one.number, two.number], False)], False)


def test_what_went_out_or_was_cancelled_is_not_to_send(signed_in, organisation, user, ready):
    one, two = PurchaseOrder.objects.order_by("number")
    cancel_order(organisation=organisation, user=user, order=one, reason="Not wanted")
    assert [numbers for _, numbers, _ in weeks(organisation)[0]] == [[two.number]]
    page = text_of(signed_in.get("/orders/"))
    # A draft that was cancelled has no spreadsheet.
    assert f"/orders/{one.number}/order.xlsx" not in page and f"/orders/{two.number}/order.xlsx" in page


def test_another_organisation_has_neither_orders_nor_plans_beside(client, organisation, ready):
    client.force_login(MembershipFactory().user)
    page = text_of(client.get("/orders/"))
    assert "order.xlsx" not in page and "Plan 1" not in page and "No season is planned yet." in page


def test_plans_stand_beside_with_how_far_they_are(signed_in, ready):
    page = text_of(signed_in.get("/orders/"))
    assert f'<a href="/plans/1/">Plan 1, {ready.name}</a>: accepted' in page


def test_many_orders_to_send_are_cut_off_with_a_link_and_cost_no_more(signed_in, organisation):
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert signed_in.get("/orders/").status_code == 200
        return len(asked)

    more_orders(organisation, 0, 5)
    assert weeks(organisation)[1] is False
    few = queries()
    more_orders(organisation, 5, 60)
    assert queries() == few
    found, more = weeks(organisation)
    assert (sum(len(numbers) for _, numbers, _ in found), more) == (MOST_TO_SEND, True)
    assert '<a class="line-link" href="?state=draft">All orders to send</a>' in text_of(signed_in.get("/orders/"))
