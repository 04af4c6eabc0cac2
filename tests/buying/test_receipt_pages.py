"""The page on which goods come in: what is typed is never lost, and two presses are one receipt."""

from __future__ import annotations

import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.buying import receiving
from farmbuild.buying.models import Receipt
from farmbuild.stock.models import Lot
from tests.buying.books import recount
from tests.buying.sent_order import sent_order
from tests.factories import MembershipFactory, PlaceFactory
from tests.reading import text_of
from tests.size import sized

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(organisation):
    return sent_order(organisation, 100, 20)


@pytest.fixture
def page(signed_in, order):
    """``page()`` opens the form and gives its hidden fields."""

    def opened(query=""):
        text = signed_in.get(f"/orders/{order.number}/receive/{query}").content.decode()
        return {name: re.search(rf'name="{name}" value="([^"]*)"', text)[1] for name in ("token", "seen")}

    return opened


@pytest.fixture
def post(signed_in, order):
    def posted(hidden, follow=True, **typed):
        data = {"received_on": "2027-04-20", "paper": "DN 77", "place": "Barn rack"} | hidden
        data |= {"arrived-1": "", "arrived-2": ""} | {name.replace("_", "-"): text for name, text in typed.items()}
        # damage-reason-1 is damage_reason-1
        data = {
            name.replace("damage-reason", "damage_reason").replace("unit-price", "unit_price"): text
            for name, text in data.items()
        }
        return signed_in.post(f"/orders/{order.number}/receive/", data, follow=follow)

    return posted


def test_received(page, post, order, signed_in, organisation):
    answer = text_of(post(page(), arrived_1="100", arrived_2="15", damaged_2="1", damage_reason_2="bent"))
    assert "115 pieces came on 20 April 2027, 1 of them damaged, delivery note DN 77." in answer
    answer = text_of(signed_in.get(f"/orders/{order.number}/"))
    assert f"Order {order.number} is part received; 6 sticks still on order, the first needed by 3 May 2027." in answer
    assert f"/orders/{order.number}/receipts/1/" in answer
    recount(organisation)
    hidden = page()
    answer = text_of(post(hidden, arrived_2="6"))
    assert "6 pieces came" in answer
    answer = text_of(signed_in.get(f"/orders/{order.number}/"))
    assert f"Order {order.number} is received: 120 sticks came whole, 1 damaged." in answer
    assert "nothing of it is on order." in text_of(signed_in.get(f"/orders/{order.number}/receive/"))


def test_two_presses_are_one_receipt(page, post, organisation):
    hidden = page()
    post(hidden, arrived_1="60")
    answer = text_of(post(hidden, arrived_1="60"))
    assert "nothing was received twice" in answer
    assert Lot.objects.get().on_hand == 60
    recount(organisation)


def test_two_people_at_one_delivery(page, post):
    mine, theirs = page(), page()
    post(theirs, arrived_1="60")
    answer = post(mine, arrived_1="60", damage_reason_1="")
    assert "While this page was open" in text_of(answer)
    assert 'value="60"' in text_of(answer)
    assert Receipt.objects.count() == 1
    # Looked at, it goes through.
    shown = re.search(r'name="seen" value="(\d+)"', answer.content.decode())[1]
    assert shown == "1"
    post(mine | {"seen": shown}, arrived_1="40")
    assert Receipt.objects.count() == 2


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"arrived_1": "lots"}, "Type a whole number from 0 to 999,999,999."),
        ({"arrived_1": "-3"}, "Type a whole number from 0 to 999,999,999."),
        ({"arrived_1": "1000000000000"}, "Type a whole number from 0 to 999,999,999."),
        ({"arrived_1": "3.5"}, "Type a whole number from 0 to 999,999,999."),
        ({"arrived_1": "5", "damaged_1": "6", "damage_reason_1": "x"}, "6 damaged of 5 pieces cannot be."),
        ({"arrived_1": "5", "damaged_1": "2"}, "Say what is damaged"),
        ({"damaged_1": "2"}, "Type how many pieces came, the damaged ones included"),
        ({"arrived_1": "5", "unit_price_1": "a lot"}, "id_unit_price-1_error"),
        ({"arrived_1": "5", "place_1": "x" * 81}, "at most 80 characters"),
        ({}, "Type how many pieces came of at least one line."),
        ({"arrived_1": "5", "place": ""}, "Type where it lies"),
        ({"arrived_1": "5", "received_on": "soon"}, "This day cannot be read"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(page, post, typed, words):
    place = typed.pop("place", None)
    day = typed.pop("received_on", None)
    hidden = page() | ({} if place is None else {"place": place}) | ({"received_on": day} if day else {})
    answer = text_of(post(hidden, **typed, arrived_2="7") if typed else post(hidden))
    assert words in answer
    assert not typed or 'value="7"' in answer
    assert 'value="DN 77"' in answer
    assert not Receipt.objects.exists() and not Lot.objects.exists()


def test_all_of_it_came(signed_in, order, organisation):
    PlaceFactory(organisation=organisation, name="Long rack")
    answer = text_of(signed_in.get(f"/orders/{order.number}/receive/?fill=all"))
    assert 'value="100"' in answer and 'value="20"' in answer
    assert '<option value="Long rack">' in answer


def test_reversed_on_its_page(page, post, signed_in, order, organisation):
    post(page(), arrived_1="60")
    address = f"/orders/{order.number}/receipts/1/"
    assert "Say why" in text_of(signed_in.post(f"{address}reverse/", {"reason": ""}))
    answer = text_of(signed_in.post(f"{address}reverse/", {"reason": "wrong pile"}, follow=True))
    assert "This takes receipt 1 back out: wrong pile." in answer
    assert "It was reversed by receipt 2." in text_of(signed_in.get(address))
    assert "has been reversed already" in text_of(signed_in.post(f"{address}reverse/", {"reason": "again"}))
    recount(organisation)


def test_closed_short_on_its_page(page, post, signed_in, order):
    post(page(), arrived_1="100")
    assert "20 of 20 still on order" in text_of(signed_in.get(f"/orders/{order.number}/close/"))
    answer = text_of(signed_in.post(f"/orders/{order.number}/close/", {"reason": "no longer made"}, follow=True))
    assert f"Order {order.number} is received: 100 sticks came whole, 20 cancelled." in answer


def test_many_lines_are_one_press(signed_in, organisation):
    lines = sized(150, 500)
    order = sent_order(organisation, *[10] * lines)
    text = signed_in.get(f"/orders/{order.number}/receive/?fill=all").content.decode()
    data = dict(re.findall(r'name="([^"]+)" (?:id="[^"]*" )?value="([^"]*)"', text))
    data = {name: value for name, value in data.items() if name != "csrfmiddlewaretoken"}
    assert len(data) > 5 * lines
    with CaptureQueriesContext(connection) as asked:
        answer = signed_in.post(
            f"/orders/{order.number}/receive/", data | {"place": "Yard", "received_on": "2027-04-20"}
        )
    assert answer.status_code == 302
    # Landed cost asks for earlier receipts, what was billed, and its delivery.
    assert len(asked) < 55
    assert Lot.objects.count() == lines


@pytest.mark.parametrize("path", ["receive/", "receipts/1/", "receipts/1/reverse/"])
def test_nothing_for_another_organisation(page, post, client, order, path):
    post(page(), arrived_1="60")
    client.force_login(MembershipFactory().user)
    address = f"/orders/{order.number}/{path}"
    assert client.get(address).status_code == 404
    assert client.post(address, {"reason": "x"}).status_code == 404
    assert Receipt.objects.count() == 1


def test_pages_cost_the_same_at_any_length(signed_in, organisation, user):
    """An order of 3 lines and one receipt, and one of many of both."""

    def cost(lines: int, receipts: int) -> list[int]:
        order = sent_order(organisation, *[1000] * lines)
        for at in range(receipts):
            receiving.receive_goods(
                organisation=organisation,
                user=user,
                order=order,
                arrivals=[receiving.Arrival(line.pk, 1) for line in order.lines.all()],
                received_on=date(2027, 4, 20),
                token=f"{order.pk}-{at}",
                place="Rack",
            )
        asked = []
        for path in ("", "receipts/1/", "receive/", "close/"):
            with CaptureQueriesContext(connection) as queries:
                assert signed_in.get(f"/orders/{order.number}/{path}").status_code == 200
            asked.append(len(queries))
        return asked

    assert cost(3, 1) == cost(sized(40, 80), sized(6, 12))
