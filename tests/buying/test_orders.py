"""Purchase orders are the plan's orders, to the cent."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.common.templatetags.farm import money
from farmbuild.plans import bridge, services
from farmbuild.plans.accepting import accept_plan
from tests.factories import MembershipFactory
from tests.plans.small_season import AS_OF
from tests.reading import text_of
from tests.size import sized

pytestmark = pytest.mark.django_db


class TestRows:
    def test_numbers_follow_the_supplier_codes(self, ready):
        found = ready.orders.order_by("number").values_list("number", "supplier__code")
        assert list(found) == [("1-1", "a-pipe"), ("1-2", "b-yard")]

    @pytest.mark.parametrize("name", ["goods", "delivery", "tax", "total", "order_by", "need_by"])
    def test_orders_are_the_plans_to_the_cent(self, ready, name):
        planned = {order.supplier: getattr(order, name) for order in bridge.season_plan_of(ready).orders}
        assert dict(ready.orders.values_list("supplier__code", name)) == planned

    def test_lines_are_the_plans_in_their_order(self, ready):
        for order in bridge.season_plan_of(ready).orders:
            rows = PurchaseOrderLine.objects.filter(order__plan=ready, order__supplier__code=order.supplier)
            for row, line in zip(rows.select_related("material"), order.lines, strict=True):
                assert row.material.code == line.material
                assert row.packs == line.packs
                for name in (
                    "description",
                    "supplier_code",
                    "length",
                    "needed",
                    "pack",
                    "quantity",
                    "unit_price",
                    "line_total",
                    "tax",
                    "need_by",
                    "late_days",
                ):
                    assert getattr(row, name) == getattr(line, name), name

    def test_an_order_adds_up(self, season, user):
        season.organisation.tax_percent = Decimal("6.25")
        season.organisation.save()
        plan = services.create_plan(**season.ask(user)).plan
        services.work_out_plan(plan.pk)
        accept_plan(organisation=season.organisation, user=user, plan=plan)
        assert plan.orders.count() == 2
        for order in plan.orders.all():
            lines = list(order.lines.all())
            assert order.goods == sum(line.line_total for line in lines)
            assert order.tax == sum(line.tax for line in lines) > 0
            assert order.total == order.goods + order.delivery + order.tax
            for line in lines:
                assert line.quantity == line.packs * line.pack >= line.needed

    def test_the_currency_is_the_snapshots(self, season, user):
        plan = services.create_plan(**season.ask(user)).plan
        season.organisation.currency = "EUR"
        season.organisation.save()
        services.work_out_plan(plan.pk)
        accept_plan(organisation=season.organisation, user=user, plan=plan)
        assert set(plan.orders.values_list("currency", flat=True)) == {"USD"}


class TestPages:
    def test_an_order_shows_who_where_when_and_how_much(self, signed_in, ready):
        order = ready.orders.get(number="1-1")
        page = text_of(signed_in.get("/orders/1-1/"))
        assert "Order 1-1 to Invented Pipe" in page
        assert "North Field" in page
        assert "order by 3 May 2027" in page
        assert money(order.total, order) in page
        assert money(Decimal(85), order) in page
        # 13.335 a piece keeps its third place; half cents are common in bulk prices.
        assert "13.335" in page

    def test_the_workbook_agrees_with_the_row(self, signed_in, ready):
        order = ready.orders.get(number="1-1")
        answer = signed_in.get("/orders/1-1/order.xlsx")
        assert answer["Content-Disposition"].startswith("attachment")
        book = load_workbook(io.BytesIO(answer.content))
        rows = [[cell.value for cell in row] for row in book.worksheets[0].iter_rows()]
        assert any("Purchase order 1-1" in row for row in rows)
        for line in order.lines.select_related("material"):
            (row,) = (row for row in rows if line.material.name in row and float(line.unit_price) in row)
            assert {line.packs, line.pack} <= set(row)

    def test_the_list_says_which_goes_out_next(self, signed_in, ready):
        page = text_of(signed_in.get("/orders/"))
        assert "Order 1-1 to Invented Pipe goes out next, by 3 May 2027" in page
        assert page.index("1-1") < page.index("1-2")

    def test_no_order_yet(self, signed_in, organisation):
        page = text_of(signed_in.get("/orders/"))
        assert "There are no orders yet." in page
        assert "Plan a season" in page

    def test_the_list_takes_as_many_queries_for_many_orders(
        self, signed_in, season, user, ready, django_assert_max_num_queries
    ):
        for n in range(plans := sized(7, 15)):
            plan = services.create_plan(**season.ask(user, as_of=AS_OF.replace(day=n + 2))).plan
            services.work_out_plan(plan.pk)
            accept_plan(organisation=season.organisation, user=user, plan=plan)
        assert PurchaseOrder.objects.count() == 2 + 2 * plans
        # Two of them for the drawing, four for what the rows say, before and after.
        with django_assert_max_num_queries(21):
            signed_in.get("/orders/")
        with django_assert_max_num_queries(6):
            signed_in.get("/orders/")

    @pytest.mark.parametrize("path", ["/orders/1-1/", "/orders/1-1/order.xlsx"])
    def test_nothing_for_another_organisation(self, client, ready, path):
        client.force_login(MembershipFactory().user)
        assert client.get(path).status_code == 404
        assert "1-1" not in text_of(client.get("/orders/"))
