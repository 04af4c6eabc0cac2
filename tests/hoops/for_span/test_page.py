"""The page of hoops for a span: own benders and what is on offer, the cheapest first."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.catalogue.models import Offer, PriceBreak
from farmbuild.sites.bridge import shape_of
from tests.factories import (
    FOOT,
    INCH,
    BenderFactory,
    HouseFactory,
    MaterialFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.reading import text_of

pytestmark = pytest.mark.django_db
PAGE = "hoops:recipe-for-span"


@pytest.fixture
def rail(organisation):
    return MaterialFactory(
        organisation=organisation, name="Rail", kind="tube", swaged=True, width=INCH * Decimal("1.375"), thickness=1.65
    )


def offered(rail, length, price, **more):
    supplier = SupplierFactory(organisation=rail.organisation)
    offer = Offer.objects.create(
        organisation=rail.organisation, supplier=supplier, material=rail, length=length, pack=1, **more
    )
    PriceBreak.objects.create(offer=offer, from_quantity=1, unit_price=price)
    return offer


def asked(client, **query):
    return text_of(client.get(reverse(PAGE), query))


def test_it_asks_for_the_span_first_and_is_found_from_the_hoops(signed_in):
    assert "Type the span" in asked(signed_in)
    assert "Hoop for a span" in text_of(signed_in.get(reverse("hoops:recipes")))


def test_the_cheapest_of_two_lengths_is_the_answer(signed_in, organisation, rail):
    BenderFactory(organisation=organisation, name="Six foot bender", rated_radius=FOOT * 6)
    offered(rail, FOOT * Decimal("10.5"), "20.00")
    offered(rail, FOOT * 21, "35.00")
    offered(rail, FOOT * 21, "34.00")
    # What does not hold any more is no offer.
    offered(rail, FOOT * 21, "1.00", valid_until=date(2020, 1, 1))
    text = asked(signed_in, post_span="12'")
    assert "1 stick of Rail on Six foot bender: $34.00 a hoop." in text
    assert "2 sticks of Rail" in text and "$40.00 a hoop" in text and "$1.00" not in text
    assert "how far it springs back is not known" in text


def test_what_cannot_be_read_is_said_at_the_box_and_what_was_typed_stays(signed_in):
    text = asked(signed_in, post_span="twelve", height="7'")
    assert "twelve" in text and "cannot be read as a length" in text


def test_where_nothing_does_it_says_so(signed_in, organisation, rail):
    assert "No bender of yours makes a hoop" in asked(signed_in, post_span="12'")
    BenderFactory(organisation=organisation, rated_radius=FOOT * 6)
    offered(rail, FOOT * Decimal("10.5"), "20.00")
    assert "No bender of yours makes a hoop" in asked(signed_in, post_span="30'")
    # Posts of 2 ft leave 5 ft less for the hoop to rise.
    assert "No bender of yours" in asked(signed_in, post_span="12'", height="9'")
    assert "2 sticks of Rail" in asked(signed_in, post_span="12'", height="8' 10\"", post_height="2'")


def test_benders_and_offers_of_others_and_archived_ones_do_not_count(signed_in, organisation, rail):
    BenderFactory(rated_radius=FOOT * 6)
    archived = BenderFactory(organisation=organisation, rated_radius=FOOT * 6)
    type(archived).objects.filter(pk=archived.pk).update(archived_at="2026-01-01T00:00Z")
    offered(rail, FOOT * Decimal("10.5"), "20.00")
    assert "No bender of yours" in asked(signed_in, post_span="12'")


def test_who_may_not_see_costs_sees_no_price(signed_in, organisation, rail):
    BenderFactory(organisation=organisation, name="Six foot bender", rated_radius=FOOT * 6)
    offered(rail, FOOT * Decimal("10.5"), "20.00")
    organisation.memberships.update(role="yard")
    text = asked(signed_in, post_span="12'")
    assert "2 sticks of Rail on Six foot bender." in text and "$" not in text


def test_what_another_bender_would_save_in_all_houses_of_the_span(signed_in, organisation, rail):
    """Own: 2 sticks for 40.00; one of 18 ft on another radius for 33.00: 7.00 less in each of the hoops."""
    BenderFactory(organisation=organisation, rated_radius=FOOT * 6)
    offered(rail, FOOT * Decimal("10.5"), "20.00")
    offered(rail, FOOT * 18, "33.00")
    site = SiteFactory(organisation=organisation)
    houses = [HouseFactory(site=site, post_span=FOOT * 12) for _ in range(2)]
    HouseFactory(site=site, post_span=FOOT * 14)
    text = asked(signed_in, post_span="12'")
    hoops = sum(shape_of(house).hoops for house in houses)
    assert "would make it for $33.00 a hoop: $7.00 less" in text
    assert f"${7 * hoops:,}.00 in the {hoops} hoops of your 2 houses of this span" in text
    # One that is there already is no other.
    BenderFactory(organisation=organisation, rated_radius=INCH * Decimal("72.3"))
    assert "Another bender" not in asked(signed_in, post_span="12'")


def test_in_metric_with_a_decimal_comma(signed_in, organisation, rail):
    """A half circle of 1.8 m takes 5,655 m: of one stick of 6 m two legs of 173 mm, a rise of 1 973 mm."""
    type(organisation).objects.filter(pk=organisation.pk).update(unit_system="metric", decimal_sign=",")
    BenderFactory(organisation=organisation, name="Bogen", rated_radius=1800)
    offered(rail, 6000, "20.00")
    text = asked(signed_in, post_span="3,6 m")
    assert "1 stick of Rail on Bogen: $20,00 a hoop." in text
    assert "3600 mm" in text.replace("\u202f", "") and "1973 mm" in text.replace("\u202f", "")
