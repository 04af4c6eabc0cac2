"""A plan that rests on a lead time nobody has said says so by name, wherever it is read, and asks."""

from __future__ import annotations

from html import unescape

import pytest

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import Offer
from farmbuild.plans import services
from farmbuild.plans.availability.selectors import things_of
from farmbuild.plans.availability.words import order_words, working
from farmbuild.plans.models import Plan
from tests.plans.small_season import AS_OF

pytestmark = pytest.mark.django_db


@pytest.fixture
def silent(season, user):
    Offer.objects.filter(supplier__code="a-pipe").update(lead_days=None)
    services.work_out_plan(services.create_plan(**season.ask(user)).plan.pk)
    return season


def read(client, address):
    return " ".join(unescape(client.get(address).content.decode()).split())


def test_pages_of_the_plan_and_its_order_say_it(signed_in, silent):
    said = "Invented Pipe has not said how long it takes for 1-5/8 post, 21' and 1-3/8 rail, 10'."
    for address in ("/plans/1/", "/plans/1/orders/", "/plans/1/orders/why/"):
        page = read(signed_in, address)
        assert said in page and "/suppliers/a-pipe/offers/" in page
        assert "all there in time" not in page
    assert "lead time not known" in read(signed_in, "/plans/1/orders/why/")
    signed_in.post("/plans/1/accept/")
    pipe, yard = PurchaseOrder.objects.order_by("number")
    assert (pipe.order_by, yard.order_by > AS_OF) == (AS_OF, True)
    page = read(signed_in, pipe.get_absolute_url())
    assert "Invented Pipe has not said how long it takes for 1-5/8 post, 21', 1-3/8 rail, 10'." in page
    assert "Lead time not known" not in read(signed_in, yard.get_absolute_url())


def test_once_typed_the_draft_is_silent_no_more(signed_in, silent):
    signed_in.post("/plans/1/accept/")
    Offer.objects.update(lead_days=3)
    assert "Lead time not known" not in read(signed_in, PurchaseOrder.objects.order_by("number")[0].get_absolute_url())


def test_what_runs_short_is_to_be_ordered_today(silent, organisation):
    things = things_of(organisation=organisation, today=AS_OF, plan=Plan.objects.get())
    thing = next(row for row in things if row.material.code == "rail" and row.outlook.short_on)
    assert thing.outlook.order_by.lead_days is None
    assert "order today from Invented Pipe, whose lead time is not known" in order_words(thing, today=AS_OF)
    assert "has not said how long it takes" in working(thing)[-1]
