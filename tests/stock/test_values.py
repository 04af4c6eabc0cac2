"""Values of lots are coins, lot by lot, so that a list, its foot and the sentence above it say one sum."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import floor
from random import Random

import pytest
from django.db.models import F
from django.urls import reverse

from farmbuild.stock.models import Lot
from farmbuild.stock.values import coins_of, value_of, worth_of
from tests.factories import LotFactory, MaterialFactory, PlaceFactory

pytestmark = pytest.mark.django_db
#: ISO 4217: decimals of the coins.
PLACES = {"USD": 2, "JPY": 0, "KWD": 3}


def by_hand(pieces: int, cost: Decimal, places: int) -> Decimal:
    return (pieces * cost).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


@pytest.mark.parametrize(("currency", "places"), PLACES.items())
def test_sql_and_decimals_say_the_same(organisation, currency: str, places: int) -> None:
    organisation.currency = currency
    chance = Random(20270201)
    material = MaterialFactory(organisation=organisation)
    place = PlaceFactory(organisation=organisation)
    costs = [Decimal("1.005"), Decimal("12.345"), Decimal("0.5"), Decimal("0.0005"), Decimal("2.6750"), Decimal(0)]
    costs += [Decimal(chance.randrange(10**7)).scaleb(-4) for _ in range(60)]
    for at, cost in enumerate(costs):
        # A half of a coin is where sums come apart, so many hands of one and of odd numbers.
        pieces = chance.choice([1, 3, 7, 11, 50, 100])
        LotFactory(material=material, place=place, reference=f"V-{at}", unit_cost=cost, on_hand=pieces)
    rows = Lot.objects.annotate(
        coins=coins_of("on_hand", organisation=organisation), amount=value_of("on_hand", organisation=organisation)
    )
    assert len(rows) == len(costs)
    for lot in rows:
        expected = by_hand(lot.on_hand, lot.unit_cost, places)
        assert worth_of(lot, organisation=organisation) == lot.amount == expected, (lot.on_hand, lot.unit_cost)
        assert lot.coins == int(expected.scaleb(places))


@pytest.mark.parametrize(("currency", "places"), PLACES.items())
def test_a_part_of_a_lot_is_that_share_of_its_value(organisation, currency: str, places: int) -> None:
    """Against fractions, half up, in Python and in SQL."""
    organisation.currency = currency
    chance = Random(20270202)
    material = MaterialFactory(organisation=organisation)
    place = PlaceFactory(organisation=organisation)
    for at in range(40):
        LotFactory(
            material=material, place=place, reference=f"P-{at}", on_hand=chance.randrange(1, 60),
            unit_cost=Decimal(chance.randrange(10**6)).scaleb(-3),
        )  # fmt: skip
    told = 0
    rows = Lot.objects.annotate(part=F("on_hand") / 3).annotate(coins=coins_of("part", organisation=organisation))
    for lot in rows:
        share = Fraction(lot.value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)) * lot.part / lot.on_hand
        coins = floor(share * 10**places + Fraction(1, 2))
        told += lot.part > 0
        assert lot.coins == coins
        if lot.value == round(lot.value, places):
            assert worth_of(lot, organisation=organisation, pieces=lot.part) == Decimal(coins).scaleb(-places)
    assert told > 20


def test_half_yens_are_coins_on_every_page(signed_in, organisation) -> None:
    organisation.currency = "JPY"
    organisation.save()
    for reference in ("A-1", "A-2", "A-3"):
        LotFactory(
            material__organisation=organisation, reference=reference, unit_cost=Decimal("12.345"), on_hand=100
        )  # fmt: skip
    # Three of 1,234.5, each 1,235.
    for address in (reverse("stock:lots"), reverse("stock:season-end")):
        page = signed_in.get(address).content.decode()
        assert "3,705" in page and "3,703.5" not in page and "1,234.5" not in page, address
