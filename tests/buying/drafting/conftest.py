"""An organisation with a supplier, what he offers, two sites, and an order made by hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest

from farmbuild.buying.drafting import services
from farmbuild.catalogue.models import PriceBreak
from farmbuild.orgs.clock import today_of
from tests.factories import FOOT, MaterialFactory, OfferFactory, SiteFactory, SupplierFactory
from tests.plans.conftest import accepted, ready, season

__all__ = ["accepted", "ready", "season"]


@dataclass
class Yard:
    who: dict
    supplier: object
    north: object
    creek: object
    rail: object
    screws: object
    day: date

    def order(self, **more):
        given = {"supplier": self.supplier, "delivery_site": self.north, "need_by": self.day}
        return services.create_draft(**self.who, **given | more)

    def line(self, order, quantity, **more):
        given = {"offer": self.rail, "need_by": self.day}
        return services.add_line(**self.who, order=order, quantity=quantity, **given | more)


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def yard(who, organisation) -> Yard:
    """Rail in packs of 10 at 13.335, from 100 at 12.905; screws at 0.0725; delivery 85, free from 2,000."""
    organisation.tax_percent = Decimal("6.25")
    organisation.save()
    supplier = SupplierFactory(
        organisation=organisation,
        code="a-pipe",
        name="Invented Pipe",
        delivery_charge=Decimal(85),
        free_delivery_from=Decimal(2000),
        minimum_order=Decimal(200),
    )
    rail = MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")
    screw = MaterialFactory(organisation=organisation, code="screw", name="Joint screw", kind="fastener")
    offer = OfferFactory(supplier=supplier, material=rail, pack=10, lead_days=9, price="13.335", supplier_code="IP-1")
    PriceBreak.objects.create(offer=offer, from_quantity=100, unit_price=Decimal("12.905"))
    screws = OfferFactory(supplier=supplier, material=screw, length=None, pack=1, lead_days=2, price="0.0725")
    north = SiteFactory(organisation=organisation, name="North Field", slug="north-field")
    creek = SiteFactory(organisation=organisation, name="Creek Bottom", slug="creek-bottom", address="2 Made-up Road")
    day = today_of(organisation=organisation) + timedelta(days=30)
    return Yard(who, supplier, north, creek, offer, screws, day)


@pytest.fixture
def other_material(organisation):
    return SimpleNamespace(
        row=MaterialFactory(organisation=organisation, code="pole", name="Odd pole", swaged=False), length=FOOT * 12
    )
