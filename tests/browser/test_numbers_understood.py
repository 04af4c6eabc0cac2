"""What was understood of a number stands under its box before anything is saved."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.factories import MaterialFactory

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
