"""A count that begins where nothing is in the stock record: sheets with empty boxes, found by material, posted."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.urls import reverse

from farmbuild.stock.counts import services
from farmbuild.stock.counts.posting import post_count
from farmbuild.stock.models import CountFind, Lot, Place, StockCount
from farmbuild.stock.services import place_named
from tests.factories import FOOT, MaterialFactory, OfferFactory, SiteFactory, SupplierFactory
from tests.reading import text_of

START = "stock:count-start"


@pytest.fixture
def rail(organisation):
    """Sold in 10 ft sticks for $8.40 (invented)."""
    material = MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")
    offer = OfferFactory(
        organisation=organisation,
        material=material,
        length=FOOT * 10,
        supplier=SupplierFactory(organisation=organisation),
    )
    offer.breaks.all().delete()
    offer.breaks.create(from_quantity=1, unit_price=Decimal("8.40"))
    return material


def begin(client, **more: str):
    return client.post(reverse(START), {"new_place": "Barn rack", "site": "", "look_again": ""} | more)


def boxes(rail, **more: str) -> dict[str, str]:
    return {f"pieces_{rail.pk}_{(FOOT * 10).normalize()}": "31"} | more


@pytest.mark.django_db
def test_a_count_begins_in_a_yard_without_any_lots(signed_in, organisation, rail):
    assert "A new place" in text_of(signed_in.get(reverse(START)))
    site = SiteFactory(organisation=organisation, name="North Field")
    begun = begin(signed_in, site=str(site.pk))
    count = StockCount.objects.get()
    assert begun["Location"] == reverse("stock:count", args=[count.number])
    place = Place.objects.get()
    assert (place.name, place.site) == ("Barn rack", site)
    page = text_of(signed_in.get(reverse("stock:count-place", args=[count.number, place.pk])))
    assert "Nothing of this place is in the stock record yet: count it by material." in page
    sheet = text_of(signed_in.get(reverse("stock:count-sheets", args=[count.number])))
    assert sheet.count("none yet") == 2, "the length that is sold, and any other"
    assert sheet.count("Found:") == 12 + 3


@pytest.mark.django_db
def test_what_is_typed_by_material_goes_into_stock_with_its_value(signed_in, organisation, user, rail):
    begin(signed_in)
    count, place = StockCount.objects.get(), Place.objects.get()
    address = reverse("stock:count-materials", args=[count.number, place.pk])
    other = f"{rail.pk}_any"
    labels = {name: str(box.label) for name, box in signed_in.get(address).context["form"].fields.items()}
    assert labels[f"pieces_{other}"] == f"Pieces of {rail}, another length"
    assert labels[f"pieces_{rail.pk}_{(FOOT * 10).normalize()}"] == f"Pieces of {rail}, 10'"
    refused = signed_in.post(address, boxes(rail) | {f"pieces_{other}": "4"})
    assert refused.context["form"].errors == {f"length_{other}": ["Type the length of one piece."]}
    assert refused.context["form"][f"pieces_{rail.pk}_{(FOOT * 10).normalize()}"].value() == "31"
    assert not CountFind.objects.exists()
    assert signed_in.post(address, boxes(rail) | {f"pieces_{other}": "4", f"length_{other}": "5'"}).status_code == 302
    post_count(organisation=organisation, user=user, count=count)
    lots = {(lot.length, lot.on_hand, lot.unit_cost, lot.place) for lot in Lot.objects.all()}
    # Half a stick is worth half of it.
    assert lots == {(FOOT * 10, 31, Decimal("8.40"), place), (FOOT * 5, 4, Decimal("4.20"), place)}


@pytest.mark.django_db
def test_kinds_of_materials_are_counted_one_after_the_other(signed_in, organisation, rail):
    nail = MaterialFactory(organisation=organisation, code="nail", name="Nail", kind="fastener")
    OfferFactory(
        organisation=organisation, material=nail, length=None, supplier=SupplierFactory(organisation=organisation)
    )
    begin(signed_in)
    count, place = StockCount.objects.get(), Place.objects.get()
    here = reverse("stock:count-materials", args=[count.number, place.pk])
    first = text_of(signed_in.get(here))
    assert "Tube, pipe, rail or conduit: type how many" in first
    assert f"pieces_{nail.pk}" not in first
    assert "Save, next: Fastener" in first
    on = signed_in.post(here, boxes(rail, to="2"))
    assert on.url == f"{here}?sheet=2"
    second = text_of(signed_in.get(on.url))
    assert f"pieces_{nail.pk}_piece" in second
    assert "31 of" in second, "what was noted before stands below"
    # A box of another sheet is taken, and shown where it is wrong.
    wrong = text_of(signed_in.post(f"{here}?sheet=1", {f"pieces_{nail.pk}_piece": "few"}))
    assert 'value="few"' in wrong
    assert CountFind.objects.count() == 1


@pytest.mark.django_db
def test_a_value_that_nothing_tells_is_asked_and_never_nothing_in_silence(signed_in, organisation):
    screw = MaterialFactory(organisation=organisation, code="screw", name="Screw", kind="fastener")
    begin(signed_in)
    count, place = StockCount.objects.get(), Place.objects.get()
    address = reverse("stock:count-materials", args=[count.number, place.pk])
    key = f"{screw.pk}_piece"
    refused = signed_in.post(address, {f"pieces_{key}": "500"}).context["form"]
    assert refused.errors == {f"value_{key}": ["Type what one is worth; 0 where it is worth nothing."]}
    assert signed_in.post(address, {f"pieces_{key}": "500", f"value_{key}": "0.05"}).status_code == 302
    assert CountFind.objects.get().unit_cost == Decimal("0.05")


@pytest.mark.django_db
def test_nothing_chosen_is_refused_and_kept(signed_in, rail):
    refused = begin(signed_in, new_place=" ").context["form"]
    assert "type the name of a new one" in refused.errors["new_place"][0]
    assert not Place.objects.exists()


@pytest.mark.django_db
def test_a_place_in_an_open_count_is_refused_and_no_second_is_made(signed_in, rail):
    begin(signed_in)
    assert "is being counted in count 1" in text_of(begin(signed_in, new_place="BARN rack"))
    assert (StockCount.objects.count(), Place.objects.count()) == (1, 1)


@pytest.mark.django_db(transaction=True)
def test_of_four_who_begin_there_at_once_one_does(organisation, user):
    def start(_: int) -> str:
        who = {"organisation": organisation, "user": user}
        try:
            services.start_count(**who, places=[place_named(**who, name="Barn rack")])
        except ValidationError:
            return "told"
        else:
            return "begun"
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(start, range(4))) == ["begun", "told", "told", "told"]
    assert Place.objects.count() == 1
