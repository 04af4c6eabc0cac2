"""Whoever comes second at what a plan uses is told, and nothing is held that is not there or for nobody."""

from __future__ import annotations

from datetime import date

import pytest
from django.db.models import F

from farmbuild.buying.models import LessWanted, PurchaseOrderLine
from farmbuild.buying.reserving.selectors import reservation_differences
from farmbuild.buying.services import cancel_order, send_order
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan, release_house
from farmbuild.plans.balance import balances
from farmbuild.plans.changing.services import accept_change
from farmbuild.plans.house_changes import change_of
from farmbuild.plans.putting_back import CHANGED, put_back, too_much_rows
from farmbuild.plans.reserving import swapping
from farmbuild.sites.models import House
from farmbuild.sites.selectors import any_house_of
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.reserving.selectors import reservations_of
from farmbuild.stock.services import issue_pieces, return_pieces, scrap
from tests.factories import FOOT
from tests.plans.test_accepting import _sent, held, plan_of, receive
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
GONE = "Stock has changed since the plan was worked out, so nothing is held. Plan again."


@pytest.fixture
def who(season, user):
    return {"organisation": season.organisation, "user": user}


@pytest.fixture
def lot(ready):
    return Lot.objects.get(reference="L-1")


def test_a_plan_asked_for_meanwhile_is_the_same(season, user):
    def ask():
        return services.create_plan(**season.ask(user))

    assert comes_second(ask, ask).same


def test_what_was_scrapped_meanwhile_is_not_held(who, ready, lot):
    said = comes_second(
        lambda: scrap(**who, lot=lot, quantity=15, reason="rust"), lambda: accept_plan(**who, plan=ready)
    )
    assert said == GONE


def test_what_was_cancelled_meanwhile_is_not_held(season, who, user):
    """The second plan counts on what whole packs bring beyond the need of the first."""
    north, creek = season.houses
    first = plan_of(season, user, houses=[north])
    accept_plan(**who, plan=first)
    _sent(first, user)
    line = next(line for line in PurchaseOrderLine.objects.filter(order__plan=first) if line.quantity > line.needed)
    second = plan_of(season, user, houses=[creek])
    said = comes_second(
        lambda: cancel_order(**who, order=line.order, reason="too dear"), lambda: accept_plan(**who, plan=second)
    )
    assert said == GONE
    assert not Reservation.objects.filter(plan=second).exists() and not second.orders.exists()


def test_a_draft_sent_meanwhile_is_not_bought_again(season, who, user, ready):
    accept_plan(**who, plan=ready)
    option = plan_of(season, user, as_of=date(2027, 3, 2))
    order = ready.orders.get(number="1-1")
    said = comes_second(
        lambda: send_order(**who, order=order, sent_on=date(2027, 3, 2), how="by hand"),
        lambda: accept_plan(**who, plan=option),
    )
    assert "order 1-1" in said and "would buy the same materials twice" in said
    assert not option.orders.exists()


def test_a_draft_of_a_plan_replaced_meanwhile_is_not_sent(season, who, user, ready):
    accept_plan(**who, plan=ready)
    option = plan_of(season, user, as_of=date(2027, 3, 2))
    order = ready.orders.get(number="1-1")
    said = comes_second(
        lambda: accept_plan(**who, plan=option),
        lambda: send_order(**who, order=order, sent_on=date(2027, 3, 2), how="by hand"),
    )
    assert said == "Order 1-1 is cancelled and is not sent again."


def test_a_change_is_accepted_by_one(season, who, user, ready):
    accept_plan(**who, plan=ready)
    _sent(ready, user)
    House.objects.filter(slug="north-1").update(length=FOOT * 32)
    change = plan_of(season, user, as_of=date(2027, 3, 2))
    seen = change_of(plan=change).seen

    def accept():
        accept_change(**who, plan=change, seen=seen)

    assert comes_second(accept, accept) == f"Plan {change.number} is accepted already."
    assert LessWanted.objects.filter(plan=change).count() == len(set(LessWanted.objects.values_list("line"))) > 0


def test_a_plan_is_accepted_by_one(who, ready):
    def accept():
        accept_plan(**who, plan=ready)

    assert comes_second(accept, accept) == f"Plan {ready.number} is accepted already."


def test_each_issue_uses_what_the_first_left_of_the_hold(season, who, ready, lot):
    accept_plan(**who, plan=ready)
    north = season.houses[0]
    before = held(lot=lot, house=north)

    def issue(quantity):
        return lambda: issue_pieces(**who, lot=lot, quantity=quantity, reason="", house=north)

    comes_second(issue(3), issue(2))
    assert held(lot=lot, house=north) == before - 5
    assert not list(reservation_differences())


def test_what_comes_back_is_not_held_for_a_house_that_was_let_go(season, who, ready, lot):
    accept_plan(**who, plan=ready)
    north = season.houses[0]
    issue_pieces(**who, lot=lot, quantity=held(lot=lot, house=north), reason="", house=north)
    back = comes_second(
        lambda: release_house(**who, house=north),
        lambda: return_pieces(**who, lot=lot, quantity=2, reason="", house=north),
    )
    assert (back.quantity, held(house=north)) == (2, 0)


@pytest.fixture
def swap(season, user, who):
    """Creek takes one of North's sticks in the yard, which gets its place in the order; and that order."""
    north, creek = season.houses
    for house in (north, creek):
        accept_plan(**who, plan=plan_of(season, user, houses=[house]))
    rows = reservations_of(organisation=season.organisation)
    waiting = rows.get(house=creek, order_line__material__code="rail", order_line__order__plan=F("plan"))
    yard = rows.get(house=north, lot__reference="L-1")
    _sent(waiting.plan, user)
    given = {"quantity": 1, "today": date(2027, 3, 1)}
    seen = swapping.effect_of(organisation=season.organisation, waiting=waiting, held=yard, **given).seen
    given |= {"waiting": waiting.pk, "held": yard.pk, "seen": seen}
    return (lambda: swapping.swap(**who, **given)), waiting.order_line


def test_a_swap_of_what_came_in_meanwhile_is_told(swap, user):
    work, line = swap
    said = comes_second(lambda: receive(line.order, user, line, line.quantity), work)
    assert "Someone changed one of these holds while this page was open" in said


def test_what_was_swapped_onto_an_order_meanwhile_is_let_go_with_it(swap, who):
    work, line = swap
    comes_second(work, lambda: cancel_order(**who, order=line.order, reason="too dear"))
    assert held(order_line__order=line.order) == 0
    assert not list(reservation_differences())


def test_what_is_too_much_is_put_back_once(season, who, ready, lot):
    """At 32 ft the house takes 18 of the 20 sticks that were issued: 2 come back, whoever presses."""
    accept_plan(**who, plan=ready)
    north = season.houses[0]
    issue_pieces(**who, lot=lot, quantity=20, reason="", house=north)
    House.objects.filter(pk=north.pk).update(length=FOOT * 32)
    house = any_house_of(organisation=season.organisation).get(pk=north.pk)
    rows = too_much_rows(balances(organisation=season.organisation, houses=[house])[house.pk], house)
    [key] = [row.key for row in rows if row.material == "rail" and not row.held]

    def press():
        put_back(**who, house=north, key=key)

    assert comes_second(press, press) == CHANGED
    lot.refresh_from_db()
    assert lot.on_hand == 2
    assert not list(reservation_differences())
