"""From every page that says that nobody offers a thing to the form of the offer, filled in, and back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from urllib.parse import quote

import pytest
from django.urls import reverse

from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from tests.factories import FOOT, MaterialFactory, OfferFactory, OrganisationFactory, SupplierFactory
from tests.plans.small_season import small_season
from tests.season.visitor import Visitor

pytestmark = pytest.mark.django_db
SHORTFALL = "/plans/1/shortfall/"


@pytest.fixture
def short(organisation, user) -> Plan:
    """A plan for which nobody sells rails or screws, and all that is sold comes from one supplier."""
    season = small_season(organisation)
    Offer.objects.of(organisation).filter(material__code__in=["rail", "screw"]).delete()
    Offer.objects.of(organisation).update(supplier=Supplier.objects.get(code="a-pipe"))
    Supplier.objects.of(organisation).exclude(code="a-pipe").delete()
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert {gap.material for gap in plan.snapshot()[1].unmet} == {"rail", "screw"}
    return plan


def filled(page) -> dict[str, str]:
    form = page.form("Save the offer")
    chosen = [o.text for o in form.all("option") if "selected" in o.attributes]
    fields = {field.get("name"): field.get("value") for field in form.all("input")}
    return {"material": chosen[0] if chosen else "", "length": fields["length"]}


def test_a_row_opens_the_filled_in_form_and_leads_on_to_plan_again(signed_in, short):
    visitor = Visitor(signed_in)
    rail, screw = visitor.open(SHORTFALL).rows("Cannot be bought", "Why")[:2]
    assert rail["Houses"] == screw["Houses"] == "North 1, Creek 1"
    assert rail["Why"].endswith("nobody offers it in this length.") and screw["Why"].endswith("nobody offers it.")
    assert (rail["Material"], screw["Material"]) != ("", "")
    for row, length, price in ((rail, "10'", "13.50"), (screw, "", "0.10")):
        visitor.open(row["link"])
        assert visitor.page.path.startswith("/suppliers/a-pipe/offers/new/")
        assert filled(visitor.page) == {"material": row["Material"], "length": length}
        visitor.press("Save the offer", **{"prices-0-unit_price": price})
        assert visitor.page.path == SHORTFALL, "back to where one came from"
    assert "may be met now" in visitor.page.text
    visitor.press("Plan again")
    plan = Plan.objects.latest("pk")
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert not plan.snapshot()[1].unmet


def test_nothing_is_said_to_be_offered_before_it_is(signed_in, short):
    page = Visitor(signed_in).open(SHORTFALL)
    assert "may be met now" not in page.text and "Plan again" not in [b.text for b in page.root.all("button")]
    # An offer that ended before today, one of another farm, and one of something else meet nothing.
    rail = Material.objects.get(code="rail")
    OfferFactory(supplier=Supplier.objects.get(code="a-pipe"), material=rail, valid_until=date(2020, 1, 1))
    OfferFactory(supplier__organisation=OrganisationFactory(), material__code="rail")
    OfferFactory(supplier=Supplier.objects.get(code="a-pipe"))
    assert "may be met now" not in Visitor(signed_in).open(SHORTFALL).text


def test_an_accepted_plan_is_not_planned_again_from_there(signed_in, short, user):
    accept_plan(organisation=short.organisation, user=user, plan=short)
    rail = Material.objects.get(code="rail")
    OfferFactory(supplier=Supplier.objects.get(code="a-pipe"), material=rail)
    page = Visitor(signed_in).open(SHORTFALL)
    assert "/plans/1/" in page.links("See what changed")
    assert "Plan again" not in [b.text for b in page.root.all("button")]


def test_of_many_suppliers_one_is_chosen_first(signed_in, short):
    SupplierFactory(organisation=short.organisation, code="b-more")
    visitor = Visitor(signed_in)
    visitor.open(visitor.open(SHORTFALL).rows("Cannot be bought", "Why")[0]["link"])
    assert visitor.page.path.startswith("/suppliers/?")
    row = next(row for row in visitor.page.rows("Supplier", "Offers") if "b-more" in row["link"])
    visitor.open(row["link"])
    assert filled(visitor.page) == {"material": "1-3/8 rail", "length": "10'"}
    visitor.press("Save the offer", **{"prices-0-unit_price": "13.50"})
    assert visitor.page.path == SHORTFALL


def test_without_a_supplier_the_first_one_is_added_on_the_way(signed_in, organisation):
    MaterialFactory(organisation=organisation, code="rail", name="Rail")
    visitor = Visitor(signed_in)
    visitor.open(f"/materials/rail/offer/?length={FOOT * 10}&back=/plans/")
    assert visitor.page.path.startswith("/suppliers/new/")
    visitor.press("Save the supplier", name="Invented Pipe", code="pipe")
    assert filled(visitor.page) == {"material": "Rail", "length": "10'"}
    visitor.press("Save the offer", **{"prices-0-unit_price": "13.50"})
    assert visitor.page.path == "/plans/"


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", "x", ""]
)
def test_nobody_is_led_to_another_site(signed_in, organisation, back):
    supplier = SupplierFactory(organisation=organisation, code="pipe")
    MaterialFactory(organisation=organisation, code="screw", kind="fastener")
    visitor = Visitor(signed_in)
    visitor.open(f"/materials/screw/offer/?back={quote(back, safe='')}")
    visitor.press("Save the offer", **{"prices-0-unit_price": "0.10"})
    assert visitor.page.path == reverse("catalogue:supplier", args=[supplier.code])


@pytest.mark.parametrize("length", ["long", "-3048", "0", "NaN", "Infinity", "1e99", ""])
def test_a_length_that_cannot_be_is_left_empty(signed_in, organisation, length):
    SupplierFactory(organisation=organisation, code="pipe")
    MaterialFactory(organisation=organisation, code="rail", name="Rail")
    page = Visitor(signed_in).open(f"/materials/rail/offer/?length={length}")
    assert filled(page) == {"material": "Rail", "length": ""}


def test_the_material_of_another_farm_is_not_found(signed_in):
    MaterialFactory(organisation=OrganisationFactory(), code="theirs")
    assert signed_in.get("/materials/theirs/offer/").status_code == 404


def test_the_needs_of_a_house_lead_there_too(signed_in, short):
    page = Visitor(signed_in).open("/plans/1/needs/north-1/")
    links = page.links("Add an offer")
    assert any(link.startswith("/materials/rail/offer/") and "length=3048" in link for link in links)
    assert all(f"back={quote('/plans/1/needs/north-1/', safe='')}" in link for link in links)
    assert signed_in.get(links[0], follow=True).status_code == 200


def test_a_plan_that_stopped_leads_to_suppliers_and_houses(signed_in, short):
    Plan.objects.update(state=Plan.State.FAILED, problem="No bender is left.", result=None, result_digest="")
    page = Visitor(signed_in).open("/plans/1/")
    assert page.links("Suppliers and prices") == ["/suppliers/"]


def test_what_runs_short_and_is_offered_by_nobody_leads_there(signed_in, short):
    address = f"/stock/availability/rail/?length={FOOT * 10}&plan={short.number}"
    page = Visitor(signed_in).open(address)
    (link,) = page.links("Add an offer")
    assert f"back={quote(address, safe='')}" in link and f"length={FOOT * 10}" in link
    OfferFactory(supplier=Supplier.objects.get(code="a-pipe"), material=Material.objects.get(code="rail"))
    assert not Visitor(signed_in).open(address).links("Add an offer")


def test_a_draft_leads_to_an_offer_of_its_supplier_and_back(signed_in, short, user):
    accept_plan(organisation=short.organisation, user=user, plan=short)
    number = short.orders.get().number
    visitor = Visitor(signed_in)
    (link,) = visitor.open(f"/orders/{number}/lines/add/").links("Add an offer of Invented Pipe")
    visitor.open(link)
    rail = Material.objects.get(code="rail")
    visitor.press("Save the offer", material=rail.pk, length="10'", **{"prices-0-unit_price": "13.50"})
    assert visitor.page.path == f"/orders/{number}/lines/add/"
    assert Offer.objects.get(material=rail).breaks.get().unit_price == Decimal("13.50")
