"""The pages on which orders are made by hand and drafts edited."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape

import pytest

from farmbuild.buying import sending
from farmbuild.buying.models import PurchaseOrder
from farmbuild.orgs.clock import today_of
from tests.factories import MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def hidden(page, name):
    """What a hidden box of the form says."""
    tag = re.search(rf'<input[^>]*name="{name}"[^>]*>', page.content.decode())[0]
    found = re.search(r'value="([^"]*)"', tag)
    return found[1] if found else ""


def follow(client, path, **data):
    page = client.post(path, data, follow=True)
    assert page.status_code == 200
    return page


def test_an_order_is_made_by_hand_from_the_list_to_the_sheet(signed_in, yard):
    assert "New order" in text_of(signed_in.get("/orders/"))
    head = {"supplier": yard.supplier.pk, "delivery_site": yard.north.pk, "need_by": yard.day, "note": "Ring first"}
    page = follow(signed_in, "/orders/new/", **head)
    assert "Nothing stands on this order yet; add a line." in text_of(page)
    page = unescape(text_of(signed_in.get("/orders/H1/lines/add/")))
    assert "1-3/8 rail, 10': packs of 10, $13.335 each, from 100 $12.905, there in 9 days" in page
    page = follow(signed_in, "/orders/H1/lines/add/", offer=yard.rail.pk, quantity="30", need_by=yard.day)
    shown = text_of(page)
    assert "1 line, $510.05" in shown and "Made by hand" in shown and "Ring first" in shown
    assert "Made by hand." in shown and "Added 30 of 1-3/8 rail" in shown
    assert "price of one 0" not in shown
    assert "made by hand" in text_of(signed_in.get("/orders/"))
    assert signed_in.get("/orders/H1/order.xlsx").status_code == 200


def test_what_is_typed_wrong_is_said_at_its_field(signed_in, yard):
    order = yard.order()
    page = signed_in.post(f"/orders/{order.number}/lines/add/", {"quantity": "5", "need_by": yard.day})
    assert "Choose an offer, or a material with its price below." in text_of(page)
    page = signed_in.post(
        f"/orders/{order.number}/lines/add/", {"offer": yard.rail.pk, "quantity": "25", "need_by": yard.day}
    )
    assert "It is sold in packs of 10. Type 20 or 30." in text_of(page)
    assert not order.lines.exists()


def test_a_change_that_reaches_houses_is_asked_for_first(signed_in, accepted):
    line = accepted.orders.get(number="1-1").lines.get(material__code="rail")
    path = f"/orders/1-1/lines/of/{line.pk}/"
    typed = {
        "quantity": str(line.quantity - 20),
        "need_by": line.need_by,
        "opened": hidden(signed_in.get(path), "opened"),
    }
    page = signed_in.post(path, typed)
    assert "is then short" in text_of(page) and "Save, and release what is short" in text_of(page)
    line.refresh_from_db()
    assert line.quantity != int(typed["quantity"])
    page = follow(signed_in, path, **typed | {"agreed": hidden(page, "agreed")})
    line.refresh_from_db()
    assert line.quantity == int(typed["quantity"])
    assert "Changed by hand since the plan" in text_of(page)


def test_the_second_of_two_editors_is_told_what_the_first_changed(signed_in, yard):
    order = yard.order()
    line = yard.line(order, 30)
    path = f"/orders/{order.number}/lines/of/{line.pk}/"
    opened = hidden(signed_in.get(path), "opened")
    typed = {"need_by": yard.day, "opened": opened}
    follow(signed_in, path, quantity="50", **typed)
    page = signed_in.post(path, typed | {"quantity": "40"})
    assert "Pieces: was 30, now 50 (you typed 40, which stays)" in text_of(page)
    follow(signed_in, path, quantity="40", need_by=yard.day, opened=hidden(page, "opened"))
    line.refresh_from_db()
    assert line.quantity == 40


def test_the_second_to_edit_where_and_when_is_told(signed_in, yard):
    order = yard.order()
    yard.line(order, 30)
    path = f"/orders/{order.number}/change/"
    typed = {"delivery_site": yard.north.pk, "need_by": yard.day, "opened": hidden(signed_in.get(path), "opened")}
    follow(signed_in, path, **typed | {"delivery_site": yard.creek.pk})
    page = signed_in.post(path, typed | {"need_by": yard.day + timedelta(days=2)})
    assert "Deliver to: was North Field, now Creek Bottom" in text_of(page)


@pytest.mark.parametrize("path", ["change/", "join/", "lines/add/", "lines/of/{pk}/", "lines/of/{pk}/remove/"])
def test_an_order_that_went_out_meanwhile_is_refused_in_words(signed_in, yard, path):
    order = yard.order()
    line = yard.line(order, 30)
    path = f"/orders/{order.number}/{path}".format(pk=line.pk)
    sending.send_order(**yard.who, order=order, sent_on=yard.day, how="")
    for page in (signed_in.get(path, follow=True), signed_in.post(path, {"quantity": "10"}, follow=True)):
        assert f"Order {order.number} is sent" in text_of(page)
    line.refresh_from_db()
    assert line.quantity == 30


def test_a_line_taken_out_meanwhile_is_said(signed_in, yard):
    order = yard.order()
    line = yard.line(order, 30)
    path = f"/orders/{order.number}/lines/of/{line.pk}/remove/"
    seen = {"seen": hidden(signed_in.get(path), "seen")}
    follow(signed_in, path, **seen)
    assert "not on the order any more" in text_of(follow(signed_in, path, **seen))


def test_a_line_changed_meanwhile_is_looked_at_before_it_is_taken_out(signed_in, yard):
    order = yard.order()
    line = yard.line(order, 30)
    page = signed_in.post(f"/orders/{order.number}/lines/of/{line.pk}/remove/", {"seen": "20"})
    assert "20 → 30 pieces" in text_of(page) and order.lines.exists()


def test_two_drafts_are_joined_and_a_line_split_by_the_pages(signed_in, yard):
    one, two = yard.order(), yard.order(delivery_site=yard.creek)
    first = yard.line(one, 30)
    yard.line(two, 20)
    page = follow(signed_in, f"/orders/{one.number}/join/", other=two.number)
    assert "2 lines, " in text_of(page) and "Creek Bottom" in text_of(page)
    assert "joined into order H1" in text_of(signed_in.get("/orders/H2/"))
    split = {"quantity": "10", "delivery_site": yard.creek.pk, "need_by": yard.day}
    follow(signed_in, f"/orders/H1/lines/of/{first.pk}/split/", **split)
    assert list(one.lines.values_list("quantity", "delivery_site")) == [
        (20, None),
        (20, yard.creek.pk),
        (10, yard.creek.pk),
    ]


def test_the_smallest_order_is_said_before_it_is_sent(signed_in, yard):
    order = yard.order()
    yard.line(order, 10)
    for path in ("", "send/"):
        page = text_of(signed_in.get(f"/orders/{order.number}/{path}"))
        assert "takes orders from $200.00; goods come to $133.35" in page


def test_an_order_without_lines_is_not_sent(signed_in, yard):
    order = yard.order()
    page = signed_in.post(f"/orders/{order.number}/send/", {"sent_on": yard.day})
    assert "Nothing stands on order H1. Add a line, then send it." in text_of(page)


def test_a_form_pressed_twice_adds_one_line(signed_in, yard):
    order = yard.order()
    path = f"/orders/{order.number}/lines/add/"
    typed = {"offer": yard.rail.pk, "quantity": "30", "need_by": yard.day, "once": hidden(signed_in.get(path), "once")}
    follow(signed_in, path, **typed), follow(signed_in, path, **typed)
    assert order.lines.count() == 1


def test_nothing_for_another_organisation(client, yard):
    order = yard.order()
    line = yard.line(order, 30)
    other = MembershipFactory()
    client.force_login(other.user)
    for path in (
        "change/",
        "join/",
        "lines/add/",
        *(f"lines/of/{line.pk}/{what}" for what in ("", "split/", "remove/")),
    ):
        assert client.get(f"/orders/{order.number}/{path}").status_code == 404
        assert client.post(f"/orders/{order.number}/{path}", {"quantity": 1}).status_code == 404
    typed = {"supplier": yard.supplier.pk, "delivery_site": yard.north.pk, "need_by": yard.day}
    assert client.post("/orders/new/", typed).status_code == 200
    assert not PurchaseOrder.objects.of(other.organisation).exists()
    assert "1-3/8 rail" not in text_of(client.get("/orders/new/"))


def test_a_new_order_is_wanted_in_two_weeks_until_someone_says_otherwise(signed_in, organisation):
    form = signed_in.get("/orders/new/").context["form"]
    assert form["need_by"].value() == today_of(organisation=organisation) + timedelta(days=14)
    assert str(form["need_by"].value()) in str(form["need_by"])
    errors = signed_in.post("/orders/new/", {"note": "gate"}).context["form"].errors
    assert errors["delivery_site"] == ["Choose the site to deliver to."]
    assert errors["need_by"] == ["Type the day by which it is wanted."]
