"""The pages of invoices: the worked example as a person types it, and what differs told before anybody pays."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.buying.models import CostAdjustment, Invoice, Receipt, ReceiptLine
from farmbuild.orgs.models import Membership
from farmbuild.stock.models import Lot
from tests.buying.invoices.bought import DELIVERY, TAX, TOTAL, D, bill, example_order, receive
from tests.buying.sent_order import sent_order
from tests.factories import MembershipFactory
from tests.reading import text_of
from tests.size import sized

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(organisation):
    return example_order(organisation)


def hidden(client, address) -> dict[str, str]:
    """All that stands in the boxes of a form as it opens."""
    text = client.get(address).content.decode().partition("<main")[2]
    return {
        name: value
        for name, value in re.findall(r'name="([^"]+)"[^>]*? value="([^"]*)"', text)
        if name != "csrfmiddlewaretoken"
    }


def test_goods_with_their_invoice_in_one_press(signed_in, order, organisation):
    address = f"/orders/{order.number}/receive/"
    form = hidden(signed_in, f"{address}?fill=all") | {"place": "Barn rack", "received_on": "2027-04-20"}
    bad = signed_in.post(address, form | {"invoice-delivery": "85"})
    assert "Type the number of the invoice, or empty delivery, tax and total." in text_of(bad)
    assert not Receipt.objects.exists()
    typed = {"invoice-number": "R-7", "invoice-invoiced_on": "2027-04-19", "invoice-delivery": "85"}
    answer = signed_in.post(address, form | typed | {"invoice-tax": "79.14", "invoice-total": "1,430.24"})
    assert answer.status_code == 302
    assert sum(ReceiptLine.objects.values_list("amount", flat=True)) == TOTAL
    invoice = Invoice.objects.get()
    assert (invoice.number, invoice.total, invoice.delivery, invoice.tax) == ("R-7", TOTAL, DELIVERY, TAX)
    assert not CostAdjustment.objects.exists()
    page = text_of(signed_in.get(f"/orders/{order.number}/"))
    assert "What came cost $1,430.24 with its share of delivery and tax." in page
    assert "Look before paying" not in page
    # The same form once more: nothing twice.
    signed_in.post(address, form | typed | {"invoice-tax": "79.14"})
    assert (Receipt.objects.count(), Invoice.objects.count()) == (1, 1)


def test_a_number_that_is_taken_keeps_the_goods_out_too(signed_in, order, user):
    bill(order, user, 1, number="R-7")
    address = f"/orders/{order.number}/receive/"
    form = hidden(signed_in, f"{address}?fill=all") | {"place": "Barn rack", "received_on": "2027-04-20"}
    answer = signed_in.post(address, form | {"invoice-number": "r-7", "invoice-invoiced_on": "2027-04-19"})
    said = text_of(answer)
    assert "Invoice R-7 of" in said and "is recorded already, on order 1-1" in said
    assert not Receipt.objects.exists() and not Lot.objects.exists()


def test_an_invoice_that_comes_later_and_differs(signed_in, order, user):
    receive(order, user, {"arrived": 60, "damaged": 6, "damage_reason": "crushed"}, 9, 8)
    order.lines.filter(position=2).update(confirmed_price=D("36.00"))
    address = f"/orders/{order.number}/invoices/new/"
    form = hidden(signed_in, address)
    assert [form[f"quantity-{position}"] for position in (1, 2, 3)] == ["54", "9", "8"]
    typed = {"number": "R-8", "invoiced_on": "2027-04-22", "delivery": "97.40", "tax": "90", "total": "1463.50"}
    answer = signed_in.post(address, form | typed | {"quantity-1": "60"}, follow=True)
    said = text_of(answer)
    for words in (
        "Line 1, Rail 1: 60 pieces billed, 54 came and not credited. 6 too many.",
        "Total: $1,463.50 billed, and its parts add up to $1,449.90. $13.60 more.",
        "Tax: $90.00 billed, $78.91 by the percent of its lines.",
    ):
        assert words in said
    # Typed nothing, so billed as confirmed.
    assert Invoice.objects.get().lines.get(order_line__position=2).unit_price == D("36.00")
    assert "Booked when it came" in said
    page = text_of(signed_in.get(f"/orders/{order.number}/"))
    assert "Look before paying." in page and "Delivery: $97.40 billed, $85.00 ordered." in page
    listed = text_of(signed_in.get("/invoices/"))
    assert "1 invoice differs from order or goods: look at it before paying." in listed
    assert "pieces, total, tax" in listed
    invoice = Invoice.objects.get()
    signed_in.post(f"{invoice.get_absolute_url()}check/", {"words": "credit note promised"})
    assert "No invoice waits to be looked at." in text_of(signed_in.get("/invoices/"))
    assert "Looked at: credit note promised" in text_of(signed_in.get("/invoices/?show=all"))
    signed_in.post(f"{invoice.get_absolute_url()}reverse/", {"reason": "typed twice"})
    assert "Reversed on" in text_of(signed_in.get(invoice.get_absolute_url()))


def test_another_price_than_confirmed_is_told(signed_in, order, user):
    receive(order, user, 60, 9, 8)
    invoice = bill(order, user, 60, 9, 8, prices=["15.10"], delivery=DELIVERY, tax=D("81.02"))
    said = text_of(signed_in.get(invoice.get_absolute_url()))
    assert "Line 1, Rail 1: $15.10 billed for one, ordered at $14.60. $30.00 more." in said


def test_what_is_typed_wrong_stands_at_its_box(signed_in, order):
    address = f"/orders/{order.number}/invoices/new/"
    form = hidden(signed_in, address) | {"number": "", "quantity-1": "many", "unit_price-2": "3", "quantity-2": ""}
    said = text_of(signed_in.post(address, form | {"delivery": "1.005"}))
    for words in ("Type the number of the invoice.", "Type how many pieces were billed, or empty the price."):
        assert words in said
    assert 'id="id_quantity-1_error"' in said and "more than 2 decimals" in said
    assert not Invoice.objects.exists()


def test_the_yard_receives_and_sees_no_invoice(client, order, organisation):
    client.force_login(MembershipFactory(organisation=organisation, role=Membership.Role.YARD).user)
    address = f"/orders/{order.number}/receive/"
    said = text_of(client.get(address))
    assert "Invoice that came with it" not in said and "Damaged pieces that are paid for" in said
    form = hidden(client, f"{address}?fill=all") | {"place": "Barn rack", "received_on": "2027-04-20"}
    client.post(address, form | {"invoice-number": "R-7", "invoice-invoiced_on": "2027-04-19"})
    assert Receipt.objects.exists() and not Invoice.objects.exists()
    assert client.get("/invoices/").status_code == 403
    assert "What came cost" not in text_of(client.get(f"/orders/{order.number}/"))


def test_the_files_add_up(signed_in, order, user, organisation):
    receive(order, user, 60, 9, 8)
    wrong = bill(order, user, 60, 9, 8, number="=R-1", delivery=D("97.40"), tax=TAX)
    signed_in.post(f"{wrong.get_absolute_url()}reverse/", {"reason": "of another farm"})
    bill(order, user, 60, 9, 8, number="R-2", delivery=D("90"), tax=TAX)
    lines = signed_in.get("/invoices/invoices.csv").content.decode("utf-8-sig").splitlines()
    assert lines[0].startswith("Date,Supplier,Invoice,Order,Kind,Currency,Goods,Delivery,Tax,Total")
    assert len(lines) == 4 and "'=R-1" in lines[1]
    totals = [D(line.split(",")[9]) for line in lines[1:]]
    assert sum(totals) == TOTAL + 5
    came = signed_in.get("/invoices/received.csv").content.decode("utf-8-sig").splitlines()
    assert sum(D(line.split(",")[10]) for line in came[1:]) == TOTAL + 5
    # Of that time: receipts and the invoice of 2027, not what was booked today.
    period = "?since=2027-04-01&until=2027-04-30"
    some = signed_in.get(f"/invoices/received.csv{period}").content.decode("utf-8-sig").splitlines()
    assert sum(D(line.split(",")[10]) for line in some[1:]) == TOTAL
    assert len(signed_in.get(f"/invoices/invoices.csv{period}").content.decode().splitlines()) == 3


def test_many_lines_ask_as_often_as_five(signed_in, organisation, user):
    asked = {}
    for lines in (5, sized(100, 500)):
        order = sent_order(organisation, *[4] * lines)
        receive(order, user, *[4] * lines)
        invoice = bill(order, user, *[5] * lines, number=f"R-{lines}", prices=["14"] * lines)
        for address in (
            f"/orders/{order.number}/",
            f"/orders/{order.number}/invoices/new/",
            invoice.get_absolute_url(),
            "/invoices/received.csv",
        ):
            signed_in.get(address)
            with CaptureQueriesContext(connection) as queries:
                assert signed_in.get(address).status_code == 200
            asked.setdefault(re.sub(r"\d+-1", "N", address), []).append(len(queries))
    assert all(few == many for few, many in asked.values()), asked
