"""Two take a list over at once, or one edits an offer meanwhile. PostgreSQL alone lets two write at once."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.catalogue import services as offers
from farmbuild.catalogue.lists import services
from farmbuild.catalogue.models import Offer, OfferRecord, PriceBreak
from tests.catalogue.lists.conftest import DAY, LIST
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def taking(shop, made):
    """As its page was shown."""
    seen = services.fingerprint(shop.understood(made))

    def take():
        return services.take_list(
            organisation=shop.organisation, user=shop.user, price_list=made, seen=seen, today=DAY, end=None
        )

    return take


def test_the_same_list_by_two(shop):
    made = shop.send(LIST)
    take = taking(shop, made)
    assert "taken over already" in comes_second(take, take)
    assert (Offer.objects.count(), PriceBreak.objects.count(), OfferRecord.objects.count()) == (3, 4, 3)


def test_two_lists_of_the_same_things(shop):
    first, second = shop.send(LIST), shop.send(LIST.replace("14.60", "15.33"))
    assert "while this page was open" in comes_second(taking(shop, first), taking(shop, second))
    assert Offer.objects.count() == 3 and not PriceBreak.objects.filter(unit_price=Decimal("15.33")).exists()


def test_an_offer_edited_meanwhile(shop):
    shop.read(LIST)
    made = shop.send(LIST.replace("14.60", "15.33"))
    row = Offer.objects.get(supplier_code="IP-1")

    def edit():
        return offers.save_offer(
            organisation=shop.organisation,
            user=shop.user,
            supplier=shop.supplier,
            data={"material": row.material, "length": row.length},
            breaks=[(1, Decimal("14.70"))],
            offer=row,
        )

    assert "while this page was open" in comes_second(edit, taking(shop, made))
    assert [step.unit_price for step in row.breaks.all()] == [Decimal("14.70")]
