"""The page that says why each offer was taken, and the days that slip."""

from __future__ import annotations

import pytest

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.plans import bridge, services
from farmbuild.sites.models import House
from tests.factories import MembershipFactory
from tests.plans.small_season import AS_OF

pytestmark = pytest.mark.django_db


def test_each_line_has_its_reason(signed_in, ready):
    page = signed_in.get("/plans/1/orders/why/").content.decode()
    lines = [line for order in bridge.season_plan_of(ready).orders for line in order.lines]
    assert len(bridge.why_offers(ready)) == len(lines) > 0
    assert page.count("there by") == len(lines)
    assert "all there in time" in page
    assert "/plans/1/orders/why/" in signed_in.get("/plans/1/orders/").content.decode()


def test_a_need_date_that_slips_is_said_on_both_pages(signed_in, season, user):
    House.objects.update(need_date=AS_OF)
    services.work_out_plan(services.create_plan(**season.ask(user)).plan.pk)
    for address in ("/plans/1/orders/", "/plans/1/orders/why/"):
        page = signed_in.get(address).content.decode()
        assert "Too late." in page and "slips by" in page
    signed_in.post("/plans/1/accept/")
    late = PurchaseOrderLine.objects.filter(late_days__gt=0).select_related("order").first()
    page = " ".join(signed_in.get(late.order.get_absolute_url()).content.decode().split())
    assert f"slips by {late.late_days} day" in page and "/plans/1/orders/why/" in page


def test_another_organisation_finds_no_page(client, ready):
    client.force_login(MembershipFactory().user)
    assert client.get("/plans/1/orders/why/").status_code == 404
