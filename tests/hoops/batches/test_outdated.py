"""A batch says when it bends for a house as it once was."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import BatchHouse
from farmbuild.hoops.batches.outdated import changes_of, outdated_batches
from farmbuild.sites.outdated import outdated_of
from tests.factories import FOOT, HouseFactory, RecipeFactory, SiteFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(shop):
    """13 hoops at 4 ft over 48 ft; all of them of the batch."""
    house = HouseFactory(site=SiteFactory(organisation=shop.organisation), recipe=shop.batch.recipe)
    BatchHouse.objects.create(batch=shop.batch, house=house, hoops=13)
    return house


def test_nothing_is_said_while_the_house_is_as_it_was(shop, house, signed_in):
    assert changes_of(batch=shop.batch) == []
    assert outdated_batches(batches=[shop.batch.pk]) == set()
    assert outdated_of(house=house) == []
    assert "Out of date" not in text_of(signed_in.get(shop.batch.get_absolute_url()))


def test_another_hoop_other_posts_and_fewer_hoops(shop, house, signed_in):
    house.recipe = RecipeFactory(organisation=shop.organisation, name="14 ft hoop", tube=shop.batch.recipe.tube)
    house.post_span, house.length = FOOT * 14, FOOT * 40
    house.save()
    assert changes_of(batch=shop.batch) == [
        f"{house.name} now has the hoop 14 ft hoop.",
        f"The posts of {house.name} now stand 14' apart, not 12'.",
        f"{house.name} now has 11 hoops, and batches make 13.",
    ]
    assert outdated_batches(batches=[shop.batch.pk]) == {shop.batch.pk}
    assert [(row.name, row.url) for row in outdated_of(house=house)] == [
        (str(shop.batch), shop.batch.get_absolute_url())
    ]
    page = text_of(signed_in.get(shop.batch.get_absolute_url()))
    assert "Its houses have changed since it was started" in page
    assert "Trial; out of date" in text_of(signed_in.get(reverse("hoops:batches")))
    assert shop.batch.get_absolute_url() in signed_in.get(house.get_absolute_url()).content.decode()


def test_an_archived_house_counts_no_more(shop, house):
    house.post_span, house.archived_at = FOOT * 14, "2027-03-01T00:00Z"
    house.save()
    assert changes_of(batch=shop.batch) == []
    assert outdated_batches(batches=[shop.batch.pk]) == set()


def test_a_list_asks_once(shop, house):
    with CaptureQueriesContext(connection) as queries:
        outdated_batches(batches=range(1, 300))
    assert len(queries) == 1


def test_services_go_on(shop, house):
    """It is said, not forbidden: the pipe may be bent already."""
    house.post_span = FOOT * 14
    house.save()
    shop.prove()
    shop.issue(2)
    services.record_bent(**shop.on, hoops=1, note="")
    assert shop.now().hoops_bent == 2
