"""The invented season of eight houses on two sites, before anything is planned."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from farmbuild.sites.models import House
from tests.factories import (
    FOOT,
    INCH,
    BenderFactory,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    OfferFactory,
    PlaceFactory,
    RecipeFactory,
    SiteFactory,
    SupplierFactory,
)

#: Name, site, feet of length, day needed. Hoops stand 4 ft apart, so 48 ft has 13.
HOUSES = (
    ("Ash", "north", 48, date(2027, 4, 12)),
    ("Birch", "north", 48, date(2027, 4, 19)),
    ("Cedar", "north", 40, date(2027, 4, 26)),
    ("Damson", "north", 40, date(2027, 5, 3)),
    ("Elm", "creek", 36, date(2027, 5, 10)),
    ("Fir", "creek", 36, date(2027, 5, 17)),
    ("Gean", "creek", 32, date(2027, 5, 24)),
    ("Hazel", "creek", 24, date(2027, 5, 31)),
)


@pytest.fixture
def eight(organisation) -> dict[str, House]:
    """By name. Each hoop takes two sticks of rail, two posts and two screws."""
    rail = MaterialFactory(organisation=organisation, code="rail", name="Rail")
    post = MaterialFactory(organisation=organisation, code="post", name="Post", swaged=False)
    screw = MaterialFactory(organisation=organisation, code="screw", name="Screw", kind="fastener")
    sites = {
        "north": SiteFactory(organisation=organisation, name="North Field", slug="north"),
        "creek": SiteFactory(organisation=organisation, name="Creek Bottom", slug="creek"),
    }
    recipe = RecipeFactory(organisation=organisation, name="Twelve foot hoop", slug="twelve", tube=rail)
    rack = PlaceFactory(organisation=organisation, name="Barn rack", site=sites["north"])
    LotFactory(material=rail, place=rack, reference="R-1", on_hand=20, unit_cost=Decimal("12.00"))
    LotFactory(material=post, place=rack, reference="P-1", length=INCH * 48, on_hand=30, unit_cost=Decimal("9.00"))
    pipe = SupplierFactory(organisation=organisation, code="pipe", name="Invented Pipe", delivery_charge=85)
    bolts = SupplierFactory(organisation=organisation, code="bolts", name="Invented Bolts")
    OfferFactory(supplier=pipe, material=rail, pack=10, lead_days=9, price="13.40")
    OfferFactory(supplier=pipe, material=post, length=INCH * 48, lead_days=9, price="9.25")
    OfferFactory(supplier=bolts, material=screw, length=None, pack=100, lead_days=2, price="0.07")
    BenderFactory(organisation=organisation, name="Blue bender", slug="blue")
    return {
        name: HouseFactory(
            site=sites[site],
            name=name,
            slug=name.lower(),
            length=FOOT * feet,
            need_date=day,
            recipe=recipe,
            post_material=post,
            screw_material=screw,
            screws_per_joint=2,
        )
        for name, site, feet, day in HOUSES
    }
