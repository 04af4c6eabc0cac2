"""The list of a first season: what ticks a step, where each leads, and when it is over for good."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.buying import sending
from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import Material, Offer
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Membership, Organisation
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan, release_plan
from farmbuild.plans.first_season.steps import first_season_of
from farmbuild.plans.models import Plan
from farmbuild.sites.services import archive_house, archive_site
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MembershipFactory,
    OfferFactory,
    OrganisationFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.plans.small_season import AS_OF, small_season

pytestmark = pytest.mark.django_db
NAMES = ["A site", "A house", "The yard", "Suppliers", "A plan", "An order"]


def ticked(organisation, user) -> list[str]:
    return [step.name for step in first_season_of(organisation=organisation, user=user).steps if step.done]


def next_of(organisation, user) -> tuple[str, str]:
    step = first_season_of(organisation=organisation, user=user).next
    return step.name, step.url


def test_nothing_is_ticked_on_an_empty_farm(organisation, user):
    season = first_season_of(organisation=organisation, user=user)
    assert [step.name for step in season.steps] == NAMES
    assert (season.done, season.next.url) == (0, "/sites/new/")


def test_each_step_is_ticked_by_what_is_there(organisation, user):
    site = SiteFactory(organisation=organisation)
    assert ticked(organisation, user) == NAMES[:1]
    assert next_of(organisation, user) == ("A house", "/houses/new/")
    HouseFactory(site=site)
    assert next_of(organisation, user) == ("The yard", "/stock/yard/")
    LotFactory(material__organisation=organisation)
    assert next_of(organisation, user) == ("Suppliers", "/suppliers/new/")
    supplier = SupplierFactory(organisation=organisation, code="only-one")
    assert next_of(organisation, user) == ("Suppliers", "/suppliers/only-one/lists/new/")
    SupplierFactory(organisation=organisation, code="another")
    assert next_of(organisation, user) == ("Suppliers", "/suppliers/")
    OfferFactory(supplier=supplier)
    assert ticked(organisation, user) == NAMES[:4]
    assert next_of(organisation, user) == ("A plan", "/plans/new/")


def test_an_empty_yard_is_passed_by(organisation, user):
    HouseFactory(site__organisation=organisation)
    OfferFactory(supplier__organisation=organisation)
    assert next_of(organisation, user) == ("A plan", "/plans/new/")
    assert "The yard" not in ticked(organisation, user), "nothing lies there, and the list does not say otherwise"


def test_what_is_out_of_use_ticks_nothing(organisation, user):
    house = HouseFactory(site__organisation=organisation)
    assert ticked(organisation, user) == ["A site", "A house"]
    archive_house(organisation=organisation, user=user, house=house)
    assert next_of(organisation, user)[0] == "A house"
    other = HouseFactory(site=house.site)
    assert ticked(organisation, user) == ["A site", "A house"]
    archive_site(organisation=organisation, user=user, site=other.site)
    assert ticked(organisation, user) == [], "a house on a site that is archived is out of use with it"


def test_prices_that_ended_and_materials_out_of_use_tick_nothing(organisation, user):
    today = today_of(organisation=organisation)
    offer = OfferFactory(supplier__organisation=organisation, valid_until=today)
    assert ticked(organisation, user) == ["Suppliers"]
    type(offer).objects.update(valid_until=today - timedelta(days=1))
    assert ticked(organisation, user) == []
    type(offer).objects.update(valid_until=None)
    offer.material.archived_at = timezone.now()
    offer.material.save()
    assert ticked(organisation, user) == []


def test_what_others_have_ticks_nothing(organisation, user):
    other = OrganisationFactory()
    small_season(other)
    assert ticked(organisation, user) == []
    # Their suppliers do not make one of ours one of many.
    SupplierFactory(organisation=organisation, code="ours")
    assert first_season_of(organisation=organisation, user=user).steps[3].url == "/suppliers/ours/lists/new/"


def test_a_plan_is_followed_to_its_acceptance(organisation, user):
    season = small_season(organisation)
    plan = services.create_plan(**season.ask(user)).plan
    step = first_season_of(organisation=organisation, user=user).next
    assert (step.label, step.url) == ("See plan 1", "/plans/1/")
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert first_season_of(organisation=organisation, user=user).next.label == "Accept plan 1"
    accept_plan(organisation=organisation, user=user, plan=plan)
    first = PurchaseOrder.objects.of(organisation).order_by("order_by", "number").first()
    assert next_of(organisation, user) == ("An order", f"/orders/{first.number}/send/")
    release_plan(organisation=organisation, user=user, plan=plan)
    assert next_of(organisation, user) == ("A plan", "/plans/new/"), "its drafts are cancelled with it"


def test_a_plan_that_stopped_says_so(organisation, user):
    season = small_season(organisation)
    plan = services.create_plan(**season.ask(user)).plan
    Plan.objects.filter(pk=plan.pk).update(state=Plan.State.FAILED, problem="No bender is left.")
    step = first_season_of(organisation=organisation, user=user).next
    assert (step.label, step.url) == ("See why plan 1 stopped", "/plans/1/")


def send_first(organisation, user) -> PurchaseOrder:
    order = PurchaseOrder.objects.of(organisation).order_by("order_by", "number").first()
    sending.send_order(organisation=organisation, user=user, order=order, sent_on=AS_OF, how="by hand", as_it_is=True)
    return order


def test_it_is_over_once_an_order_went_out_and_stays_over(accepted, user):
    organisation = accepted.organisation
    assert first_season_of(organisation=organisation, user=user)
    order = send_first(organisation, user)
    assert first_season_of(organisation=organisation, user=user) is None
    sending.cancel_order(organisation=organisation, user=user, order=order, reason="The supplier has shut.")
    assert first_season_of(organisation=organisation, user=user) is None, "an order taken back had gone out"
    for house in accepted.houses.all():
        type(house).objects.filter(pk=house.pk).update(archived_at=timezone.now())
    assert first_season_of(organisation=organisation, user=user) is None, "the next season is no first one"


def test_a_yard_that_has_everything_needs_no_order(organisation, user):
    season = small_season(organisation)
    pieces = {"rail": FOOT * 10, "post": FOOT * 21, "board": FOOT * 12, "screw": None}
    for code, length in pieces.items():
        material = Material.objects.of(organisation).get(code=code)
        LotFactory(material=material, length=length, on_hand=5000, unit_cost=Decimal("0.01"))
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert (plan.order_count, plan.snapshot()[1].unmet) == (0, ())
    assert first_season_of(organisation=organisation, user=user)
    accept_plan(organisation=organisation, user=user, plan=plan)
    assert first_season_of(organisation=organisation, user=user) is None
    release_plan(organisation=organisation, user=user, plan=plan)
    assert first_season_of(organisation=organisation, user=user) is None


def test_a_plan_that_can_buy_nothing_does_not_end_it(organisation, user):
    season = small_season(organisation)
    Offer.objects.of(organisation).delete()
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.order_count == 0 and plan.snapshot()[1].unmet
    accept_plan(organisation=organisation, user=user, plan=plan)
    assert next_of(organisation, user)[0] == "Suppliers"


def test_an_invented_season_asks_nothing_and_shows_nothing(organisation, user, signed_in):
    Organisation.objects.filter(pk=organisation.pk).update(invented=True)
    organisation.refresh_from_db()
    with CaptureQueriesContext(connection) as asked:
        assert first_season_of(organisation=organisation, user=user) is None
    assert not asked.captured_queries
    assert b"First season" not in signed_in.get("/houses/").content


@pytest.mark.parametrize("rows", [1, 12])
def test_one_query_while_it_lasts_and_afterwards(accepted, user, rows):
    organisation = accepted.organisation
    for _ in range(rows):
        HouseFactory(site__organisation=organisation)
        OfferFactory(supplier__organisation=organisation)
    with CaptureQueriesContext(connection) as asked:
        assert first_season_of(organisation=organisation, user=user)
    assert len(asked.captured_queries) == 1
    send_first(organisation, user)
    with CaptureQueriesContext(connection) as asked:
        assert first_season_of(organisation=organisation, user=user) is None
    assert len(asked.captured_queries) == 1


def test_who_does_not_plan_is_not_asked_to(organisation):
    crew = MembershipFactory(organisation=organisation, role=Membership.Role.CREW).user
    assert first_season_of(organisation=organisation, user=crew) is None
    planner = MembershipFactory(organisation=organisation, role=Membership.Role.PLANNER).user
    assert first_season_of(organisation=organisation, user=planner)
    stranger = MembershipFactory().user
    assert first_season_of(organisation=organisation, user=stranger) is None


def test_it_stands_on_the_first_page_with_one_main_button(signed_in, organisation):
    SiteFactory(organisation=organisation)
    page = signed_in.get("/", follow=True).content.decode()
    assert "First season" in page and "1 of 6 done" in page
    assert page.count('class="action"') == 1
    assert 'class="action" href="/houses/new/"' in page


@pytest.mark.parametrize("address", ["/sites/", "/stock/", "/suppliers/", "/plans/", "/orders/"])
def test_empty_pages_name_the_next_step(signed_in, address):
    page = signed_in.get(address).content.decode()
    assert "0 of 6 done" in page and 'href="/sites/new/"' in page


@pytest.mark.parametrize("role", Membership.Role.values)
def test_no_step_leads_to_a_page_that_refuses(client, organisation, role):
    season = small_season(organisation)
    user = MembershipFactory(organisation=organisation, role=role).user
    plan = services.create_plan(**season.ask(MembershipFactory(organisation=organisation).user)).plan
    services.work_out_plan(plan.pk)
    client.force_login(user)
    found = first_season_of(organisation=organisation, user=user)
    for step in found.steps if found else ():
        assert client.get(step.url).status_code == 200, step
