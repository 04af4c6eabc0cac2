"""A small real season: two houses over two sites, rail in the yard, the rest to buy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House, Site
from tests.factories import (
    FOOT,
    INCH,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    OfferFactory,
    PlaceFactory,
    RecipeFactory,
    SiteFactory,
    SupplierFactory,
)

AS_OF = date(2027, 3, 1)


@dataclass
class SmallSeason:
    organisation: Organisation
    north: Site
    creek: Site
    houses: list[House]

    def ask(self, user, **changed):
        return {
            "organisation": self.organisation,
            "user": user,
            "name": "Spring",
            "houses": self.houses,
            "delivery_site": self.north,
            "as_of": AS_OF,
        } | changed


def small_season(organisation: Organisation) -> SmallSeason:
    rail = MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")
    post = MaterialFactory(organisation=organisation, code="post", name="1-5/8 post", swaged=False)
    board = MaterialFactory(organisation=organisation, code="board", name="2x6 board", kind="lumber")
    screw = MaterialFactory(organisation=organisation, code="screw", name="Joint screw", kind="fastener")
    north = SiteFactory(organisation=organisation, name="North Field", slug="north-field")
    creek = SiteFactory(organisation=organisation, name="Creek Bottom", slug="creek-bottom")
    recipe = RecipeFactory(organisation=organisation, tube=rail)
    common = {
        "recipe": recipe,
        "post_material": post,
        "base_board_material": board,
        "base_board_rows": 1,
        "base_board_lengths": [str(FOOT * 8), str(FOOT * 12)],
        "screw_material": screw,
        "screws_per_joint": 2,
    }
    houses = [
        HouseFactory(site=north, name="North 1", slug="north-1", need_date=date(2027, 5, 12), **common),
        HouseFactory(site=creek, name="Creek 1", slug="creek-1", need_date=date(2027, 5, 20), **common),
    ]
    rack = PlaceFactory(organisation=organisation, name="Rack 1")
    LotFactory(material=rail, place=rack, reference="L-1", on_hand=20)
    LotFactory(material=post, place=rack, reference="L-2", length=FOOT * 21, on_hand=1, unit_cost=Decimal(30))
    LotFactory(material=post, place=rack, reference="L-3", length=INCH * 60, on_hand=1, offcut=True)
    pipe = SupplierFactory(organisation=organisation, code="a-pipe", name="Invented Pipe", delivery_charge=85)
    yard = SupplierFactory(organisation=organisation, code="b-yard", name="Invented Lumber Yard")
    OfferFactory(supplier=pipe, material=rail, pack=10, lead_days=9, price="13.335")
    OfferFactory(supplier=pipe, material=post, length=FOOT * 21, lead_days=9, price="34")
    OfferFactory(supplier=yard, material=board, length=FOOT * 8, lead_days=2, price="7.95")
    OfferFactory(supplier=yard, material=board, length=FOOT * 12, lead_days=2, price="12.20")
    OfferFactory(supplier=yard, material=screw, length=None, pack=100, lead_days=2, price="0.0725")
    return SmallSeason(organisation, north, creek, houses)
