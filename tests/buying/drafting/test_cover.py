"""What a changed draft does to the houses that hold its lines: said first, then done, and every balance stays true."""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db.models import Sum

from farmbuild.buying.drafting import services
from farmbuild.buying.drafting.cover import CoverChanges
from farmbuild.buying.drafting.joining import join_orders, split_line
from farmbuild.buying.reserving.selectors import reservation_differences
from farmbuild.plans.accepting import NotReserved, accept_plan, release_plan
from farmbuild.plans.balance import balances
from farmbuild.plans.models import Plan
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.stock.models import Reservation
from tests.factories import FOOT, LotFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(accepted):
    return accepted.orders.get(number="1-1")


@pytest.fixture
def rail(order):
    """A line all of whose pieces but spare ones of the pack are held."""
    return order.lines.get(material__code="rail")


def to_find(plan, material):
    rows = balances(organisation=plan.organisation, houses=list(plan.houses.all()))
    found = [row for balance in rows.values() for row in balance.rows if row.material.code == material]
    for row in found:
        assert row.needed == row.in_house + row.held + row.on_order + row.to_find
    return sum(row.to_find for row in found)


def saved(call, **asked):
    """Does what is asked once it has been told, and gives what was told."""
    with pytest.raises(CoverChanges) as told:
        call(**asked)
    call(**asked, agreed=told.value.agreed)
    assert not list(reservation_differences())
    return list(told.value.effects)


def test_fewer_pieces_are_said_then_released_and_still_to_find(who, order, rail):
    assert to_find(order.plan, "rail") == 0
    free = rail.quantity - rail.reserved
    lower = rail.quantity - 20
    (words,) = saved(services.change_line, **who, order=order, line=rail, quantity=lower, need_by=rail.need_by)
    short = 20 - free
    assert words == f"Creek 1 is then short {short} sticks of {rail.description}."
    assert to_find(order.plan, "rail") == short
    rail.refresh_from_db()
    assert rail.reserved == rail.quantity == lower
    assert words in order.changes.last().what


def test_nothing_changes_before_it_is_agreed(who, order, rail):
    with pytest.raises(CoverChanges):
        services.remove_line(**who, order=order, line=rail)
    with pytest.raises(CoverChanges):
        services.remove_line(**who, order=order, line=rail, agreed="another question")
    rail.refresh_from_db()
    assert rail.reserved and not order.changes.exists()


def test_a_line_that_is_taken_out_is_short_of_all_that_was_held(who, order, rail):
    held = dict(Reservation.objects.filter(order_line=rail).values_list("house__name").annotate(sum=Sum("quantity")))
    told = saved(services.remove_line, **who, order=order, line=rail)
    assert sorted(told) == sorted(
        f"{house} is then short {count} sticks of {rail.description}." for house, count in held.items()
    )
    assert to_find(order.plan, "rail") == sum(held.values())
    assert list(order.lines.values_list("position", flat=True)) == list(range(1, order.lines.count() + 1))


def test_free_pieces_of_the_yard_are_held_instead(who, order, rail):
    lot = LotFactory(material=rail.material, reference="L-9", on_hand=6, place__name="Barn rack")
    other = LotFactory(material=rail.material, reference="L-8", on_hand=6, offcut=True, length=FOOT * 10)
    told = saved(services.remove_line, **who, order=order, line=rail)
    assert told[0] == "6 sticks for Creek 1 are then held of lot L-9 at Barn rack."
    lot.refresh_from_db(), other.refresh_from_db()
    assert (lot.reserved, other.reserved) == (6, 0)
    assert to_find(order.plan, "rail") == rail.reserved - 6


def test_more_pieces_are_free_for_anyone(who, order, rail):
    free = rail.quantity - rail.reserved
    services.change_line(**who, order=order, line=rail, quantity=rail.quantity + 10, need_by=rail.need_by)
    rail.refresh_from_db()
    assert rail.to_come - rail.reserved == free + 10
    assert to_find(order.plan, "rail") == 0


def test_a_day_too_late_for_a_house_is_said(who, order, rail):
    first = Reservation.objects.filter(order_line=rail).order_by("need_by").first()
    later = first.need_by + timedelta(days=3)
    told = saved(services.change_line, **who, order=order, line=rail, quantity=rail.quantity, need_by=later)
    assert any(words.startswith("North 1 needs") and words.endswith("they come 3 days later.") for words in told), told


def test_a_split_line_is_held_by_the_houses_of_its_site(who, order, rail, season):
    creek = Reservation.objects.filter(order_line=rail, house__name="Creek 1").aggregate(sum=Sum("quantity"))["sum"]
    part = split_line(**who, order=order, line=rail, quantity=20, delivery_site=season.creek, need_by=rail.need_by)
    rail.refresh_from_db(), part.refresh_from_db()
    assert part.deliver_to == season.creek and rail.deliver_to == season.north
    assert part.reserved == min(20, creek) and rail.reserved <= rail.quantity
    assert set(part.reservations.values_list("house__name", flat=True)) == {"Creek 1"}
    assert to_find(order.plan, "rail") == 0
    assert not list(reservation_differences())


def test_joined_orders_keep_what_houses_hold_and_where_it_goes(who, order, rail, season):
    hand = services.create_draft(**who, supplier=order.supplier, delivery_site=season.creek, need_by=rail.need_by)
    services.add_line(**who, order=hand, quantity=20, need_by=rail.need_by, offer=_offer(rail))
    before = rail.reserved, order.lines.count()
    join_orders(**who, order=hand, other=order)
    hand.refresh_from_db(), order.refresh_from_db(), rail.refresh_from_db()
    assert (order.state, order.total, order.cancel_reason) == ("cancelled", 0, "joined into order H1")
    assert rail.order == hand and rail.deliver_to == season.north
    assert (rail.reserved, hand.lines.count() - 1) == before
    assert hand.lines.first().deliver_to == season.creek
    assert hand.total == hand.goods + hand.delivery + hand.tax
    assert hand.goods == sum(hand.lines.values_list("line_total", flat=True)) and hand.delivery == 85
    assert to_find(order.plan, "rail") == 0


def test_orders_to_two_suppliers_are_not_joined(who, accepted, order):
    with pytest.raises(ValidationError) as refused:
        join_orders(**who, order=order, other=accepted.orders.get(number="1-2"))
    assert refused.value.messages == ["Choose an order to Invented Pipe."]


def test_a_joined_order_stays_while_another_plan_needs_it(who, user, season):
    """Drafts of a released plan are cancelled, but not one that houses of another plan hold."""
    plans = []
    for house in season.houses:
        plan = create_plan(**season.ask(user, name=house.name, houses=[house])).plan
        work_out_plan(plan.pk)
        plans.append(accept_plan(**who, plan=Plan.objects.get(pk=plan.pk)))
    first, second = (plan.orders.get(supplier__code="b-yard") for plan in plans)
    join_orders(**who, order=first, other=second)
    before = to_find(plans[1], "board"), to_find(plans[1], "screw")
    release_plan(**who, plan=plans[0])
    first.refresh_from_db()
    assert first.state == "draft"
    assert (to_find(plans[1], "board"), to_find(plans[1], "screw")) == before == (0, 0)


def _offer(line):
    return line.order.supplier.offers.get(material=line.material)


def test_a_plan_does_not_take_another_thing_under_the_name_of_a_line(who, user, season):
    """The spare rail of the first plan's draft is named by the second; then posts stand on its line."""
    plans = []
    for house in season.houses:
        plan = create_plan(**season.ask(user, name=house.name, houses=[house])).plan
        work_out_plan(plan.pk)
        plans.append(Plan.objects.get(pk=plan.pk))
        if not plans[1:]:
            accept_plan(**who, plan=plans[0])
    order = plans[0].orders.get(supplier__code="a-pipe")
    lots = {lot.ref for lot in plans[1].snapshot()[0].lots if lot.ref.startswith(f"order {order.number} ")}
    assert lots, "the second plan counts on the draft"
    rail, post = order.lines.get(material__code="rail"), order.lines.get(material__code="post")
    saved(services.remove_line, **who, order=order, line=rail)
    line = services.add_line(**who, order=order, quantity=50, need_by=post.need_by, offer=_offer(post))
    assert line.position == rail.position
    with suppress(NotReserved):
        accept_plan(**who, plan=plans[1])
    for row in Reservation.objects.filter(plan=plans[1], order_line__order=order):
        thing = (row.order_line.material.code, row.order_line.length)
        assert thing in {(lot.material, lot.length) for lot in plans[1].snapshot()[0].lots if lot.ref in lots}
