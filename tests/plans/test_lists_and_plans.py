"""A supplier's list changes offers; plans and orders that were there keep their prices."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.lists import services
from farmbuild.catalogue.lists.understood import understand
from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.orgs.clock import today_of
from farmbuild.plans import bridge

pytestmark = pytest.mark.django_db
LIST = "Our code,Length,Pack,Price\nrail,10',10,99.95\npost,21',1,88.80\n"


def test_they_keep_their_prices(accepted, user):
    organisation = accepted.organisation
    today = today_of(organisation=organisation)
    who = {"organisation": organisation, "user": user}
    plan = bridge.season_plan_of(accepted).orders
    lines = list(PurchaseOrderLine.objects.order_by("pk").values("unit_price", "line_total", "tax"))
    totals = list(PurchaseOrder.objects.order_by("pk").values("total", "order_by"))
    supplier = Supplier.objects.get(code="a-pipe")
    made = services.make_list(**who, supplier=supplier, data=LIST.encode(), filename="list.csv")
    seen = services.fingerprint(understand(organisation=organisation, price_list=made, today=today))
    services.take_list(**who, price_list=made, seen=seen, today=today, end=None)
    prices = {offer.breaks.get().unit_price for offer in Offer.objects.filter(supplier=supplier)}
    assert prices == {Decimal("99.95"), Decimal("88.80")}
    accepted.refresh_from_db()
    assert bridge.season_plan_of(accepted).orders == plan
    assert list(PurchaseOrderLine.objects.order_by("pk").values("unit_price", "line_total", "tax")) == lines
    assert list(PurchaseOrder.objects.order_by("pk").values("total", "order_by")) == totals
