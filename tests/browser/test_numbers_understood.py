"""What was understood of a number stands under its box before anything is saved."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.stock.models import Lot
from tests.factories import LotFactory, MaterialFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def page(chromium, live_server, organisation, signed_in):
    organisation.unit_system, organisation.decimal_sign, organisation.currency = "metric", ",", "EUR"
    organisation.save()
    MaterialFactory(organisation=organisation)
    context = chromium.new_context(viewport={"width": 390, "height": 900}, base_url=live_server.url)
    cookie = signed_in.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    yield context.new_page()
    context.close()


def echo_of(page, name: str):
    box = f"input[name={name}]"
    return page.locator(f"{box} + [data-echo], :is(.with-unit, .step):has({box}) + [data-echo]")


@pytest.mark.parametrize(
    "name, typed, said",
    [
        ("unit_cost", "1.234,5", "€1\u202f234,50"),
        ("unit_cost", "3.750", "could be 3750 or 3,750"),
        ("quantity", "1.200", "1\u202f200"),
        ("length", "6000", "6\u202f000 mm"),
        ("length", "2,38", "2\u202f380 mm"),
    ],
)
def test_the_page_says_what_it_understood(page, name, typed, said):
    page.goto(reverse("stock:receive"))
    page.locator(f"input[name={name}]").fill(typed)
    page.keyboard.press("Tab")
    echo_of(page, name).filter(has_text=said).wait_for(timeout=10_000)


def test_a_plain_count_is_not_said_again(page):
    page.goto(reverse("stock:receive"))
    with page.expect_response("**/understood/**") as answer:
        page.locator("input[name=quantity]").fill("24")
        page.keyboard.press("Tab")
    assert answer.value.json() == {"understood": ""}
    assert page.locator("input[name=quantity] + [data-echo]").count() == 0


def test_a_price_far_from_usual_is_asked_about_and_saved_once_ticked(page, organisation):
    rail = MaterialFactory(organisation=organisation, name="Rail", kind="tube")
    LotFactory(organisation=organisation, material=rail, length=Decimal(6000), unit_cost=Decimal("12.50"))
    page.goto(reverse("stock:receive"))
    page.locator("select[name=material]").select_option(str(rail.pk))
    page.locator("input[name=length]").fill("6000")
    page.locator("input[name=quantity]").fill("24")
    page.locator("input[name=place_name]").fill("Yard")
    page.locator("input[name=unit_cost]").fill("1250")
    page.keyboard.press("Tab")
    echo_of(page, "unit_cost").filter(has_text="100 times what Rail usually costs").wait_for(timeout=10_000)
    page.get_by_role("button", name="Put into stock").click()
    page.get_by_label("Yes, save it as typed").check()
    assert page.locator("input[name=quantity]").input_value() == "24"
    page.get_by_role("button", name="Put into stock").click()
    page.wait_for_url("**/stock/lots/*/")
    assert Lot.objects.of(organisation).filter(unit_cost=1250).exists()
