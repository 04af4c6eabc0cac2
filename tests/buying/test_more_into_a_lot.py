"""More into a lot by its label: what of it is on order is offered, and receipts stay what they were."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from farmbuild.buying import receiving
from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.buying.receiving import Arrival
from farmbuild.stock import ledger
from farmbuild.stock import services as stock
from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import Lot
from tests.buying.sent_order import sent_order
from tests.factories import FOOT, LotFactory, PlaceFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(organisation):
    return sent_order(organisation, 100, 20, otherwise={2: {"length": FOOT * 8}})


@pytest.fixture
def lot(order, organisation):
    place = PlaceFactory(organisation=organisation, name="Barn & rack")
    return LotFactory(material=order.lines.first().material, place=place, length=FOOT * 10, on_hand=6)


def receive(order, user, came):
    return receiving.receive_goods(
        organisation=order.organisation,
        user=user,
        order=order,
        arrivals=[Arrival(order.lines.first().pk, came)],
        received_on=date(2027, 4, 20),
        token=f"came {came}",
        place="Barn rack",
    ).receipt


def test_an_order_line_of_the_same_is_offered_and_received_as_such(signed_in, user, order, lot):
    page = signed_in.get(f"/stock/lots/{lot.pk}/receive/?label=1")
    address = f"/orders/{order.number}/receive/?line=1&amp;place=Barn%20%26%20rack"
    assert address in page.content.decode()
    assert "100 on order" in text_of(page)
    assert "line=2" not in page.content.decode()
    form = signed_in.get(address.replace("&amp;", "&"))
    assert [entry.line.position for entry in form.context["entries"]] == [1]
    assert form.context["form"]["place"].value() == "Barn & rack"
    given = form.context["form"]
    sent = {"arrived-1": "30", "received_on": timezone.localdate().isoformat(), "place": "Barn & rack"}
    sent |= {"token": given["token"].value(), "seen": given["seen"].value()}
    assert signed_in.post(f"/orders/{order.number}/receive/?line=1", sent).status_code == 302
    assert PurchaseOrderLine.objects.get(order=order, position=1).to_come == 70
    assert set(Lot.objects.values_list("on_hand", flat=True)) == {6, 30}


def test_an_offcut_and_another_length_are_offered_nothing(signed_in, lot):
    for changed in ({"offcut": True}, {"offcut": False, "length": FOOT * 9}):
        Lot.objects.filter(pk=lot.pk).update(**changed)
        assert "line=" not in signed_in.get(f"/stock/lots/{lot.pk}/receive/").content.decode()


def test_more_by_hand_in_a_lot_of_a_receipt_stays_when_the_receipt_is_reversed(user, order):
    receipt = receive(order, user, 40)
    lot = Lot.objects.get()
    more = stock.receive_more(organisation=order.organisation, user=user, lot=lot, quantity=5)
    receiving.reverse_receipt(organisation=order.organisation, user=user, receipt=receipt, reason="wrong pile")
    lot.refresh_from_db()
    assert lot.on_hand == 5
    assert order.lines.first().to_come == 100
    # What was added by hand is reversed by itself, and what came by the order was not.
    ledger.reverse(organisation=order.organisation, user=user, movement=more, reason="never came")
    lot.refresh_from_db()
    assert lot.on_hand == 0
    assert not list(differences())


def test_what_came_by_the_order_is_still_reversed_on_its_page_alone(user, order):
    receipt = receive(order, user, 40)
    lot = Lot.objects.get()
    stock.receive_more(organisation=order.organisation, user=user, lot=lot, quantity=5)
    first = lot.movements.order_by("pk").first()
    with pytest.raises(ValidationError, match=f"came by {receipt}"):
        ledger.reverse(organisation=order.organisation, user=user, movement=first, reason="wrong")


def test_the_page_asks_as_little_at_many_order_lines(signed_in, organisation, lot, django_assert_max_num_queries):
    sent_order(organisation, *[10] * 30, otherwise={n: {"material": lot.material} for n in range(1, 31)})
    with django_assert_max_num_queries(14):
        page = signed_in.get(f"/stock/lots/{lot.pk}/receive/")
    assert page.content.decode().count("line=") == 4
    assert "See every order" in text_of(page)
