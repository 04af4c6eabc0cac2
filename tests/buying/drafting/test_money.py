"""What an order made by hand comes to, against sums worked out by hand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from farmbuild.buying.drafting import services
from farmbuild.orgs.clock import today_of

pytestmark = pytest.mark.django_db


def sums(order):
    order.refresh_from_db()
    return [order.goods, order.delivery, order.tax, order.total]


def test_lines_charges_and_tax_add_up_to_the_total(yard, other_material):
    order = yard.order()
    yard.line(order, 30)
    yard.line(order, 333, offer=yard.screws)
    yard.line(
        order,
        3,
        offer=None,
        material=other_material.row,
        length=other_material.length,
        unit_price=Decimal("9.995"),
    )
    # 30 at 13.335 is 400.05; 333 at 0.0725 is 24.1425, so 24.14; 3 at 9.995 is 29.985, so 29.99.
    # Tax at 6.25 %: 25.003125, 1.50875 and 1.874375, so 25.00, 1.51 and 1.87.
    lines = list(order.lines.values_list("line_total", "tax"))
    expected = [("400.05", "25.00"), ("24.14", "1.51"), ("29.99", "1.87")]
    assert lines == [(Decimal(total), Decimal(tax)) for total, tax in expected]
    assert sums(order) == [Decimal("454.18"), Decimal(85), Decimal("28.38"), Decimal("567.56")]


def test_delivery_is_free_from_the_level_of_the_supplier(yard):
    order = yard.order()
    line = yard.line(order, 150)
    # 150 at 12.905 is 1,935.75, below 2,000; 160 is 2,064.80. Tax 120.984375 and 129.05.
    assert sums(order) == [Decimal("1935.75"), Decimal(85), Decimal("120.98"), Decimal("2141.73")]
    services.change_line(**yard.who, order=order, line=line, quantity=160, need_by=yard.day)
    assert sums(order) == [Decimal("2064.80"), Decimal(0), Decimal("129.05"), Decimal("2193.85")]


def test_lines_of_one_offer_reach_its_price_break_together(yard):
    order = yard.order()
    first = yard.line(order, 60)
    assert first.unit_price == Decimal("13.335")
    second = yard.line(order, 40, delivery_site=yard.creek)
    assert set(order.lines.values_list("unit_price", flat=True)) == {Decimal("12.905")}
    assert "price of one 13.335 → 12.905" in order.changes.last().what
    services.remove_line(**yard.who, order=order, line=second)
    assert order.lines.get().unit_price == Decimal("13.335")


def test_an_order_without_lines_costs_nothing(yard):
    order = yard.order()
    line = yard.line(order, 30)
    services.remove_line(**yard.who, order=order, line=line)
    assert sums(order) == [0, 0, 0, 0]


def test_the_last_day_to_order_is_the_lead_time_before_the_day_wanted(yard):
    order = yard.order()
    yard.line(order, 30)
    order.refresh_from_db()
    assert (order.need_by, order.order_by) == (yard.day, yard.day - timedelta(days=9))
    yard.line(order, 10, need_by=today_of(organisation=order.organisation) + timedelta(days=4))
    order.refresh_from_db()
    assert order.order_by == today_of(organisation=order.organisation)
    assert order.lines.last().late_days == 5


@pytest.mark.parametrize(("quantity", "said"), [(25, "Type 20 or 30."), (7, "Type 10."), (0, "from 1 to 999,999,999")])
def test_only_whole_packs_are_ordered(yard, quantity, said):
    with pytest.raises(ValidationError) as refused:
        yard.line(yard.order(), quantity)
    assert said in " ".join(refused.value.messages)


def test_what_has_no_offer_needs_a_price(yard, other_material):
    with pytest.raises(ValidationError) as refused:
        yard.line(yard.order(), 5, offer=None, material=other_material.row, length=other_material.length)
    assert "unit_price" in refused.value.error_dict


def test_a_planned_order_that_is_changed_adds_up_as_the_planner_does(accepted, who):
    order = accepted.orders.get(number="1-1")
    planned = sums(order)
    services.change_draft(
        **who, order=order, delivery_site=order.delivery_site, need_by=order.need_by, note="Ring first"
    )
    assert sums(order) == planned
    assert not order.follows_plan and order.origin == "changed by hand since the plan"


def test_numbers_of_orders_made_by_hand_run_on(yard):
    assert [yard.order().number, yard.order().number] == ["H1", "H2"]
