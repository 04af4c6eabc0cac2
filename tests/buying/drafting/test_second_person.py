"""Above what one person may send, an order is asked for and waits for another."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.db import connection

from farmbuild.buying import sending
from farmbuild.buying.drafting import services
from farmbuild.buying.drafting.joining import join_orders, split_line
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.second_person import who_may_send
from farmbuild.orgs.acts import NotAllowed, Role
from farmbuild.orgs.models import Membership
from tests.factories import MembershipFactory
from tests.reading import text_of

COIN = Decimal("0.01")
LISTS = {"/orders/", "/orders/?state=draft"}


@pytest.fixture
def order(yard):
    order = yard.order()
    yard.line(order, 30)
    return PurchaseOrder.objects.get(pk=order.pk)


@pytest.fixture
def planner(organisation):
    return MembershipFactory(organisation=organisation, role=Role.PLANNER, user__first_name="Ann").user


def limit(user, amount):
    Membership.objects.filter(user=user).update(send_limit=amount)


def two_above(organisation, amount):
    organisation.two_people_above = amount
    organisation.save()


def send(yard, order, user):
    return sending.send_order(
        organisation=yard.who["organisation"], user=user, order=order, sent_on=yard.day, how="by e-mail"
    )


@pytest.mark.django_db
class TestOwnLimit:
    def test_up_to_it_an_order_goes_out(self, yard, order, planner):
        limit(planner, order.total)
        sent = send(yard, order, planner)
        assert (sent.state, sent.sent_by, sent.asked_at) == ("sent", planner, None)

    @pytest.mark.parametrize("of", ["total", "goods"])
    def test_above_it_with_delivery_and_tax_it_waits(self, yard, order, planner, of):
        assert order.goods + order.delivery + order.tax == order.total > order.goods
        limit(planner, getattr(order, of) - (COIN if of == "total" else 0))
        asked = send(yard, order, planner)
        assert (asked.state, asked.sent_on, asked.asked_by) == ("draft", None, planner)
        assert asked.waits_for_second
        assert not hasattr(asked, "sent_workbook")

    def test_pressed_again_it_says_who_asked_first(self, yard, order, planner, organisation):
        other = MembershipFactory(organisation=organisation, role=Role.PLANNER).user
        for user in (planner, other):
            limit(user, 100)
        first = send(yard, order, planner).asked_at
        for user in (planner, other):
            again = send(yard, order, user)
            assert (again.state, again.asked_by, again.asked_at) == ("draft", planner, first)

    def test_who_may_send_that_much_sends_it(self, yard, order, planner, user):
        limit(planner, 100)
        send(yard, order, planner)
        assert who_may_send(order=PurchaseOrder.objects.get()) == [user]
        sent = send(yard, order, user)
        assert (sent.state, sent.sent_by, sent.asked_by) == ("sent", user, planner)

    def test_without_the_act_nobody_even_asks(self, yard, order, organisation):
        hand = MembershipFactory(organisation=organisation, role=Role.YARD).user
        with pytest.raises(NotAllowed):
            send(yard, order, hand)
        assert PurchaseOrder.objects.get().asked_at is None

    def test_the_machine_has_no_limit(self, yard, order, organisation):
        two_above(organisation, 1)
        assert send(yard, order, None).state == "sent"


@pytest.mark.django_db
class TestTwoPeople:
    def test_another_than_who_asked_sends_it(self, yard, order, planner, user, organisation):
        two_above(organisation, order.total - COIN)
        for _ in range(2):
            assert send(yard, order, user).asked_by == user
        assert who_may_send(order=PurchaseOrder.objects.get()) == [planner]
        sent = send(yard, order, planner)
        assert (sent.state, sent.asked_by, sent.sent_by) == ("sent", user, planner)

    def test_up_to_it_one_is_enough(self, yard, order, user, organisation):
        two_above(organisation, order.total)
        assert send(yard, order, user).state == "sent"

    def test_a_limit_of_their_own_stands_beside_it(self, yard, order, planner, user, organisation):
        two_above(organisation, 1)
        limit(planner, 100)
        send(yard, order, user)
        assert send(yard, order, planner).state == "draft"
        assert who_may_send(order=PurchaseOrder.objects.get()) == []


def another(yard):
    order = yard.order()
    yard.line(order, 10)
    return order


def changes(yard, order):
    line = order.lines.get
    where = {"delivery_site": yard.north, "need_by": yard.day}
    return {
        "where": lambda: services.change_draft(**yard.who, order=order, note="Ring first.", **where),
        "more": lambda: yard.line(order, 10),
        "quantity": lambda: services.change_line(**yard.who, order=order, line=line(), quantity=50, need_by=yard.day),
        "less": lambda: services.remove_line(**yard.who, order=order, line=line(), seen=30),
        "part": lambda: split_line(
            **yard.who, order=order, line=line(), quantity=10, delivery_site=yard.creek, need_by=yard.day
        ),
        "joined": lambda: join_orders(**yard.who, order=order, other=another(yard)),
    }


@pytest.mark.django_db
@pytest.mark.parametrize("how", ["where", "more", "quantity", "less", "part", "joined"])
def test_a_changed_order_is_asked_for_anew(yard, order, planner, user, organisation, how):
    two_above(organisation, 1)
    send(yard, order, user)
    changes(yard, order)[how]()
    now = PurchaseOrder.objects.get(pk=order.pk)
    assert (now.asked_at, now.asked_by) == (None, None)
    if how != "less":
        assert send(yard, order, planner).asked_by == planner
        assert send(yard, order, user).state == "sent"


@pytest.mark.django_db
def test_pages_say_who_asked_and_who_may_send(yard, order, planner, user, client):
    limit(planner, 100)
    client.force_login(planner)
    address = f"/orders/{order.number}/"
    assert "Ask for a second person" in text_of(client.get(f"{address}send/"))
    answer = client.post(f"{address}send/", {"sent_on": str(yard.day), "how": ""}, follow=True)
    said = f"it waits for a second person. {user.display_name} may send it."
    assert said in text_of(answer)
    assert "Ann asked on" in text_of(answer)
    for page in LISTS:
        assert "waits for a second person" in text_of(client.get(page))
    # The second press finds nothing to press.
    assert "Ask for a second person" not in text_of(client.get(f"{address}send/"))
    client.force_login(user)
    assert "Mark as sent" in text_of(client.get(f"{address}send/"))
    client.post(f"{address}send/", {"sent_on": str(yard.day), "how": ""})
    page = text_of(client.get(address))
    assert "Asked for on" in page
    assert "by Ann" in page
    assert "Waits for" not in page


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_who_press_at_once_are_one_who_asks_and_one_who_sends(yard, order, planner, user, organisation):
    two_above(organisation, 1)

    def press(who):
        try:
            return send(yard, order, who)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        states = sorted(done.state for done in pool.map(press, (planner, user)))
    now = PurchaseOrder.objects.get()
    assert states == ["draft", "sent"]
    assert {now.asked_by, now.sent_by} == {planner, user}


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_one_person_who_presses_twice_at_once_asks_once(yard, order, user, organisation):
    two_above(organisation, 1)

    def press(_):
        try:
            return send(yard, order, user)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        asked = {(done.state, done.asked_at) for done in pool.map(press, range(2))}
    assert asked == {("draft", PurchaseOrder.objects.get().asked_at)}
