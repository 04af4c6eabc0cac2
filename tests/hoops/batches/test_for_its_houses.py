"""What a batch takes is borne by its houses, and what comes back takes it off those houses alone."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db.models import Sum
from django.utils import timezone

from farmbuild.demo.diary import clock_at
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.selectors import attempts_needed, hoops_for, last_bent_at, lots_for, sticks_for
from farmbuild.hoops.benders.services import archive_bender
from farmbuild.hoops.recipes.services import archive_recipe
from farmbuild.stock.ledger import issue_to_put_back
from farmbuild.stock.models import CostShare
from tests.factories import FOOT, INCH, HouseFactory, LotFactory, OrganisationFactory, RecipeFactory, SiteFactory
from tests.hoops.batches.making import PIPE, TARGET, Shop, make_bender

pytestmark = pytest.mark.django_db


@pytest.fixture
def houses(shop):
    """Two of five hoops each: Ash is first by its name, Birch by its day."""
    site = SiteFactory(organisation=shop.organisation)
    ash, birch = (
        HouseFactory(site=site, recipe=shop.batch.recipe, name=name, slug=name.lower(), length=FOOT * 16)
        for name in ("Ash", "Birch")
    )
    birch.need_date = ash.need_date - timedelta(days=1)
    birch.save()
    return ash, birch


def batch_for(shop, shares, quantity=None, **changes) -> Shop:
    data = {"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12}
    given = {"recipe": shop.batch.recipe, "bender": shop.batch.bender, "quantity": quantity or sum(shares.values())}
    batch = services.create_batch(**shop.who, **(given | changes), shares=shares, data=data)
    return Shop(shop.organisation, shop.user, batch, shop.lot)


def borne(house) -> Decimal:
    return CostShare.objects.filter(house=house).aggregate(sum=Sum("quantity", default=Decimal(0)))["sum"]


def test_sticks_that_come_back_take_it_off_the_houses_of_their_own_batch(shop, houses):
    ash, birch = houses
    one, two = batch_for(shop, {ash: 5}), batch_for(shop, {birch: 5})
    one.issue(2)
    two.issue(2)
    assert (borne(ash), borne(birch)) == (2, 2)
    services.return_sticks(**one.on, lot=shop.lot, quantity=2)
    assert (borne(ash), borne(birch)) == (0, 2)


def test_a_stick_in_one_piece_has_no_joint_so_that_an_offcut_of_its_length_will_do(shop):
    tube = shop.batch.recipe.tube
    LotFactory(material=tube, offcut=True, on_hand=5)
    assert set(lots_for(batch=shop.batch)) == {shop.lot}, "two sticks are joined at a swage, which offcuts have lost"
    made = {"organisation": shop.organisation, "tube": tube, "radius": INCH * 79}
    recipe = RecipeFactory(**made, stick_length=PIPE, sticks=1, insertion=Decimal(0))
    end = LotFactory(material=tube, length=PIPE, offcut=True, on_hand=5)
    LotFactory(material=tube, length=PIPE, on_hand=0)
    alone = batch_for(shop, {}, quantity=3, recipe=recipe)
    assert set(lots_for(batch=alone.batch)) == {end}, "and none is of use that is empty"
    services.issue_sticks(**alone.on, lot=end, quantity=1)
    end.refresh_from_db()
    assert end.on_hand == 4


def test_the_house_that_needs_its_hoops_first_gets_them_first(shop, houses):
    ash, birch = houses
    both = batch_for(shop, {ash: 5, birch: 5})
    both.prove()
    both.issue(4)
    services.record_bent(**both.on, hoops=2)
    found = hoops_for(houses=[ash.pk, birch.pk])
    assert (found[ash.pk].bent, found[birch.pk].bent) == (0, 3)
    assert {row.house: row.sticks for row in sticks_for(houses=[ash.pk, birch.pk])} == {birch.pk: 6}


def test_a_house_has_all_its_hoops_from_batches_that_make_just_as_many(shop, houses):
    ash, birch = houses
    batch_for(shop, {ash: 5})
    batch_for(shop, {birch: 4})
    found = hoops_for(houses=[ash.pk, birch.pk])
    assert [found[house.pk].all_hoops for house in houses] == [True, False]


def test_hoops_counted_back_are_no_bending(shop, houses):
    ash, _ = houses
    one = batch_for(shop, {ash: 5})
    one.prove()
    one.issue(4)
    bent = services.record_bent(**one.on, hoops=2)
    services.take_back_hoops(**one.on, hoops=1, reason="counted twice", spoilt=False)
    assert last_bent_at(houses=[ash.pk]) == {ash.pk: bent.at}


def test_attempts_are_those_of_batches_with_an_accepted_hoop(shop, houses):
    assert attempts_needed(organisation=shop.organisation) == []
    one = batch_for(shop, {houses[0]: 5})
    one.prove()
    assert [(row.batches, row.attempts) for row in attempts_needed(organisation=shop.organisation)] == [(1, 1.0)]


def test_sticks_of_a_batch_are_put_back_through_the_batch_alone(shop, houses):
    one = batch_for(shop, {houses[0]: 5})
    one.issue(2)
    assert issue_to_put_back(lot=shop.lot) is None


def test_who_is_archived_twice_was_archived_the_first_time(shop):
    """Recipes and benders keep the moment, and those of others stay as they are."""
    recipe, bender = RecipeFactory(organisation=shop.organisation), make_bender(shop.organisation, slug="second")
    began, other = timezone.now(), OrganisationFactory()
    for archive, row in ((archive_recipe, recipe), (archive_bender, bender)):
        given = {"recipe": row} if row is recipe else {"bender": row}
        archive(organisation=other, user=None, **given)
        row.refresh_from_db()
        assert row.archived_at is None
        for day in (0, 1):
            with clock_at(began + timedelta(days=day)):
                archive(**shop.who, **given)
        row.refresh_from_db()
        assert row.archived_at < began + timedelta(hours=1)
