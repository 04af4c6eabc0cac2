"""An accepted plan holds all that it uses for its houses, or nothing."""

from __future__ import annotations

from datetime import date, timedelta
from io import StringIO
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import Sum
from django.urls import reverse
from django.utils import timezone

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.reserving.selectors import reservation_differences
from farmbuild.buying.selectors import first_to_send, orders_of
from farmbuild.buying.services import Arrival, cancel_order, close_short, receive_goods, reverse_receipt, send_order
from farmbuild.plans import accepting, services
from farmbuild.plans.accepting import NotReserved, accept_plan, release_house, release_plan
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.reserving.services import release
from farmbuild.plans.reserving.wanted import wanted_reservations
from farmbuild.plans.selectors import changes_since
from farmbuild.sites.models import Site
from farmbuild.stock import ledger
from farmbuild.stock.models import HeldPiece, Lot, Movement, Reservation
from farmbuild.stock.services import issue_pieces, receive_lot, return_pieces, scrap
from tests.factories import MembershipFactory
from tests.signing_in import keeper_of_the_server


def plan_of(season, user, **changed):
    plan = services.create_plan(**season.ask(user, **changed)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


def held(**which):
    return Reservation.objects.filter(**which).aggregate(sum=Sum("quantity"))["sum"] or 0


def test_all_that_the_plan_uses_is_held(accepted):
    plan = accepted
    _, result = plan.snapshot()
    from_lots = sum(row.quantity for row in result.allocations) + sum(x.times for x in result.layouts if x.lot)
    assert from_lots and held(lot__isnull=False) == from_lots
    needed = sum(line.needed for order in result.orders for line in order.lines)
    assert held(order_line__isnull=False) == needed
    for lot in Lot.objects.all():
        assert lot.reserved == held(lot=lot) <= lot.on_hand
    for line in PurchaseOrderLine.objects.all():
        assert line.reserved == held(order_line=line) == line.needed <= line.quantity
    assert plan.is_accepted and PlanHouse.objects.filter(plan=plan, accepted=True).count() == 2
    assert changes_since(plan=plan) == []
    assert not list(reservation_differences())


def test_pieces_of_held_sticks_are_those_of_the_cut_plan(accepted):
    season, result = accepted.snapshot()
    cut = sum(len(layout.pieces) * layout.times for layout in result.layouts)
    assert cut and cut == sum(
        piece.each * piece.reservation.quantity for piece in HeldPiece.objects.select_related("reservation")
    )
    shared = [want for want in wanted_reservations(season, result) if len({piece.house for piece in want.pieces}) > 1]
    days = {house.ref: house.need_date for house in season.houses}
    for want in shared:
        assert days[want.house] == min(days[piece.house] for piece in want.pieces)


def test_accepted_twice_is_said(accepted, user):
    with pytest.raises(ValidationError, match="accepted already"):
        accept_plan(organisation=accepted.organisation, user=user, plan=accepted)


def test_what_is_gone_is_named_and_nothing_is_held(ready, user):
    lot = Lot.objects.get(reference="L-1")
    scrap(organisation=ready.organisation, user=user, lot=lot, quantity=15, reason="rust")
    with pytest.raises(NotReserved, match="Plan again") as refused:
        accept_plan(organisation=ready.organisation, user=user, plan=ready)
    assert sum(row.missing for row in refused.value.rows) == 15
    assert {row.source for row in refused.value.rows} == {"L-1"}
    assert not Reservation.objects.exists() and not PlanHouse.objects.filter(accepted=True).exists()
    ready.refresh_from_db()
    assert ready.accepted_at is None


def test_two_plans_never_hold_the_same_stick(season, user):
    north, creek = season.houses
    one, two = plan_of(season, user, houses=[north]), plan_of(season, user, houses=[creek])
    accept_plan(organisation=season.organisation, user=user, plan=one)
    with pytest.raises(NotReserved) as refused:
        accept_plan(organisation=season.organisation, user=user, plan=two)
    assert any(f"for {north.name} (plan {one.number})" in row.holders for row in refused.value.rows)
    assert held(house=creek) == 0
    # Planned again it buys what the other holds, and can be accepted.
    again = plan_of(season, user, houses=[creek])
    accept_plan(organisation=season.organisation, user=user, plan=again)
    assert held(house=creek) and held(house=north)
    assert not list(reservation_differences())


def test_planned_again_the_houses_own_holds_are_free_and_move_over(season, user, accepted):
    again = plan_of(season, user, as_of=date(2027, 3, 2))
    assert {lot.ref: lot.quantity for lot in again.snapshot()[0].lots}["L-1"] == 20
    accept_plan(organisation=season.organisation, user=user, plan=again)
    accepted.refresh_from_db()
    assert accepted.released_at and not Reservation.objects.filter(plan=accepted).exists()
    assert set(Reservation.objects.values_list("plan", flat=True)) == {again.pk}


def test_a_house_planned_alone_leaves_the_others_in_their_plan(season, user, accepted):
    north, creek = season.houses
    before = held(house=creek)
    again = plan_of(season, user, houses=[north])
    accept_plan(organisation=season.organisation, user=user, plan=again)
    accepted.refresh_from_db()
    assert accepted.is_accepted
    assert set(Reservation.objects.filter(plan=accepted).values_list("house", flat=True)) == {creek.pk}
    # Sticks that both were cut from stay with the other house.
    assert held(house=creek) >= before
    assert not HeldPiece.objects.filter(reservation__plan=accepted, house=north).exists()
    assert PlanHouse.objects.get(house=north, accepted=True).plan_id == again.pk


def test_released_plan_and_house_are_free(season, user, accepted):
    organisation = season.organisation
    release_house(organisation=organisation, user=user, house=season.houses[0])
    assert held(house=season.houses[0]) == 0 and held(house=season.houses[1]) > 0
    with pytest.raises(ValidationError, match="in no accepted plan"):
        release_house(organisation=organisation, user=user, house=season.houses[0])
    release_plan(organisation=organisation, user=user, plan=accepted)
    assert not Reservation.objects.exists()
    assert not Lot.objects.filter(reserved__gt=0).exists()
    with pytest.raises(ValidationError, match="holds nothing"):
        release_plan(organisation=organisation, user=user, plan=accepted)
    accept_plan(organisation=organisation, user=user, plan=accepted)
    assert held() > 0


def test_issue_to_the_house_uses_its_hold_and_nobody_elses(season, user, accepted):
    organisation, north = season.organisation, season.houses[0]
    lot = Lot.objects.get(reference="L-1")
    mine = held(lot=lot, house=north)
    assert lot.reserved == lot.on_hand == 20
    with pytest.raises(ValidationError, match=rf"None of them is free; held are .*for {north.name} \(plan"):
        scrap(organisation=organisation, user=user, lot=lot, quantity=1, reason="rust")
    issue_pieces(organisation=organisation, user=user, lot=lot, quantity=3, reason="", house=north)
    assert held(lot=lot, house=north) == mine - 3
    with pytest.raises(ValidationError, match="cannot be taken"):
        issue_pieces(organisation=organisation, user=user, lot=lot, quantity=mine, reason="", house=north)
    assert held(lot=lot, house=north) == mine - 3
    lot.refresh_from_db()
    assert (lot.on_hand, lot.reserved) == (17, 17)


def test_work_by_the_plan_does_not_outdate_it(season, user, accepted):
    given = {"organisation": season.organisation, "user": user, "lot": Lot.objects.get(reference="L-1"), "reason": "x"}
    issue_pieces(**given, quantity=20, house=season.houses[0])
    assert changes_since(plan=accepted) == []
    return_pieces(**given, quantity=5)
    assert len(changes_since(plan=accepted)) == 1


def test_a_hold_of_another_organisation_is_not_let_go(accepted):
    row, stranger = Reservation.objects.filter(quantity__gt=1).first(), MembershipFactory()
    with pytest.raises(ValidationError, match="0 pieces are held here now"):
        release(organisation=stranger.organisation, user=stranger.user, reservation=row, quantity=1)
    assert held(pk=row.pk) == row.quantity
    assert release(organisation=accepted.organisation, user=accepted.accepted_by, reservation=row, quantity=1) == 1
    assert held(pk=row.pk) == row.quantity - 1


def test_a_receipt_of_held_pieces_is_not_reversed_and_says_who_holds_them(accepted, user):
    came = Lot.objects.get(reference="L-1").movements.get()
    with pytest.raises(ValidationError, match=r"cannot be reversed\. None of them is free; held are .* for North 1"):
        ledger.reverse(organisation=accepted.organisation, user=user, movement=came, reason="never came")


def _sent(plan, user):
    for order in PurchaseOrder.objects.filter(plan=plan):
        send_order(organisation=plan.organisation, user=user, order=order, sent_on=date(2027, 3, 2), how="e-mail")
    return PurchaseOrder.objects.filter(plan=plan, lines__reserved__gt=0).order_by("pk").first()


def receive(order, user, line, arrived, damaged=0):
    return receive_goods(
        organisation=order.organisation,
        user=user,
        order=order,
        arrivals=[Arrival(line.pk, arrived, damaged, "bent" if damaged else "")],
        received_on=date(2027, 4, 1),
        token=str(uuid4()),
        place="Rack 1",
    ).receipt


def test_goods_that_come_take_the_hold_into_the_yard_and_back(accepted, user):
    order = _sent(accepted, user)
    line = order.lines.filter(reserved__gte=2).first()
    was = line.reserved
    part = receive(order, user, line, 2, damaged=1)
    line.refresh_from_db()
    lot = part.lines.get().lot
    assert (line.reserved, lot.reserved) == (was - 1, 1)
    rest = receive(order, user, line, line.to_come + 3)
    line.refresh_from_db()
    assert line.reserved == 0 and rest.lines.get().lot.reserved == was - 1
    assert changes_since(plan=accepted) == []
    reverse_receipt(organisation=accepted.organisation, user=user, receipt=rest, reason="wrong pile")
    line.refresh_from_db()
    assert line.reserved == was - 1 and held(order_line=line) == was - 1
    assert not list(reservation_differences())


def test_a_cancelled_order_is_held_by_nobody(accepted, user):
    order = _sent(accepted, user)
    cancel_order(organisation=accepted.organisation, user=user, order=order, reason="too dear")
    assert held(order_line__order=order) == 0
    release_plan(organisation=accepted.organisation, user=user, plan=accepted)
    accept_plan(organisation=accepted.organisation, user=user, plan=accepted)
    # It is ordered again under a number of its own; the other order went out and stands.
    states = dict(PurchaseOrder.objects.filter(plan=accepted).values_list("number", "state"))
    assert states[order.number] == "cancelled" and states[f"{order.number}-2"] == "draft"
    assert sorted(states.values()) == ["cancelled", "draft", "sent"]
    assert held(order_line__order__number=f"{order.number}-2") > 0


def test_what_a_closed_order_does_not_bring_is_held_by_nobody_and_planned_again(season, user, accepted):
    order = _sent(accepted, user)
    line, other = order.lines.filter(reserved__gt=1)[:2]
    was, of_other = line.reserved, other.reserved
    came = receive(order, user, line, 1).lines.get().lot
    given = {"organisation": accepted.organisation, "user": user, "order": order, "reason": "no longer made"}
    close_short(**given, line=line)
    assert (held(order_line=line), held(lot=came), held(order_line=other)) == (0, 1, of_other)
    close_short(**given)
    assert held(order_line__order=order) == 0
    assert not list(reservation_differences())
    again = plan_of(season, user, as_of=date(2027, 3, 2))
    bought = again.snapshot()[1].orders
    needed = {(row.material, row.length): row.needed for made in bought for row in made.lines}
    assert needed[line.material.code, line.length] == was - 1
    assert needed[other.material.code, other.length] == of_other


def accept_again(plan, user):
    release_plan(organisation=plan.organisation, user=user, plan=plan)
    with pytest.raises(NotReserved) as refused:
        accept_plan(organisation=plan.organisation, user=user, plan=plan)
    return refused


def test_what_is_on_its_way_and_free_goes_to_another_plan(season, user):
    north, creek = season.houses
    first = plan_of(season, user, houses=[north])
    accept_plan(organisation=season.organisation, user=user, plan=first)
    order = _sent(first, user)
    # Whole packs bring more than the house needs; the rest is there for the other.
    line = next(line for line in PurchaseOrderLine.objects.filter(order__plan=first) if line.quantity > line.needed)
    second = plan_of(season, user, houses=[creek])
    name = f"order {line.order.number} line {line.position}"
    lots = {lot.ref: lot for lot in second.snapshot()[0].lots}
    assert lots[name].quantity == line.quantity - line.needed
    assert lots[name].unit_cost == line.unit_price
    assert lots[name].available_from == line.need_by
    assert "on order, due" in lots[name].place
    accept_plan(organisation=season.organisation, user=user, plan=second)
    taken = held(order_line=line, house=creek)
    assert taken > 0
    assert order.plan_id == first.pk
    receive(line.order, user, line, line.quantity)
    assert held(lot__receipt_lines__order_line=line, house=creek) == taken


def test_what_came_on_top_and_is_held_keeps_its_receipt(season, user):
    """Ordered q; 2 came, then q + 1, all of it held for two houses. Taken back, q - 2 are to come for q + 1 held."""
    north, creek = season.houses
    first = plan_of(season, user, houses=[north])
    accept_plan(organisation=season.organisation, user=user, plan=first)
    _sent(first, user)
    line = next(line for line in PurchaseOrderLine.objects.filter(order__plan=first) if line.quantity > line.needed)
    receive(line.order, user, line, 2)
    rest = receive(line.order, user, line, line.quantity + 1)
    accept_plan(organisation=season.organisation, user=user, plan=plan_of(season, user, houses=[creek]))
    lot = rest.lines.get().lot
    assert lot.reserved == lot.on_hand == line.quantity + 1
    with pytest.raises(ValidationError, match=f"Houses hold 3 pieces more of what came on line {line.position} than"):
        reverse_receipt(organisation=season.organisation, user=user, receipt=rest, reason="wrong pile")
    assert held(lot=lot) == lot.on_hand


def test_only_a_plan_accepted_later_overtakes_orders(season, user):
    organisation, north = season.organisation, season.houses[0]
    both = plan_of(season, user)
    accept_plan(organisation=organisation, user=user, plan=both)
    mine = orders_of(organisation=organisation).filter(plan=both)
    first = mine.order_by("order_by", "pk").first()
    option = plan_of(season, user, houses=[north], as_of=date(2027, 3, 2))
    assert not any(order.overtaken for order in mine.all()) and mine.count() == 2
    assert first_to_send(organisation=organisation, today=date(2027, 3, 1)) == first
    last = max(order.order_by for order in mine)
    assert first_to_send(organisation=organisation, today=last).order_by == last
    assert first_to_send(organisation=organisation, today=last + timedelta(days=1)) is None
    accept_plan(organisation=organisation, user=user, plan=option)
    assert all(order.overtaken and order.state == "draft" for order in mine.all())
    # It takes what it held of these drafts, which stay for the other house, and orders nothing itself.
    assert option.order_count == 0 and not option.orders.exists()
    assert first_to_send(organisation=organisation, today=date(2027, 3, 1)) is None
    release_plan(organisation=organisation, user=user, plan=option)
    assert not any(order.overtaken for order in mine.all())


@pytest.mark.parametrize(
    ("sql", "guard"),
    [
        ("UPDATE stock_lot SET reserved = reserved - 1 WHERE reserved > 0", "lot_reserved_is_true"),
        ("UPDATE stock_lot SET on_hand = reserved - 1 WHERE reserved > 0", "lot_(reserved|promised)_is_on_hand"),
        (
            "UPDATE stock_reservation SET quantity = 100000 WHERE lot_id IS NOT NULL",
            "lot_(reserved|promised)_is_on_hand",
        ),
        ("UPDATE stock_reservation SET quantity = 100000 WHERE lot_id IS NULL", "order_line_reserved_is_to_come"),
        ("UPDATE stock_reservation SET quantity = 0", "reservation_holds_something"),
        ("UPDATE buying_purchaseorderline SET reserved = 0 WHERE reserved > 0", "line_reserved_is_true"),
        ("UPDATE plans_plan SET released_at = accepted_at", "plan_holding_not_released"),
        ("UPDATE plans_planhouse SET accepted = false", "plan_house_holding_not_let_go"),
        (
            "INSERT INTO plans_planhouse (plan_id, house_id, accepted)"
            " SELECT p.id, h.house_id, true FROM plans_planhouse h, plans_plan p WHERE NOT EXISTS"
            " (SELECT 1 FROM plans_planhouse o WHERE o.plan_id = p.id AND o.house_id = h.house_id)",
            "house_in_one_accepted_plan|plans_planhouse.house_id",
        ),
    ],
)
def test_the_database_refuses_it_too(season, user, accepted, sql, guard):
    services.create_plan(**season.ask(user, houses=season.houses[:1]))
    with pytest.raises(IntegrityError, match=guard), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


def test_no_hold_outside_an_accepted_plan(season, user, accepted):
    other = services.create_plan(**season.ask(user, houses=season.houses[:1])).plan
    lot = receive_lot(
        organisation=season.organisation,
        user=user,
        material=Lot.objects.get(reference="L-1").material,
        quantity=5,
        place=Lot.objects.get(reference="L-1").place,
        received_on=date(2027, 3, 1),
        length=Lot.objects.get(reference="L-1").length,
    )
    with pytest.raises(IntegrityError, match="reservation_of_an_accepted_plan"), transaction.atomic():
        Reservation.objects.create(
            organisation=season.organisation,
            plan=other,
            house=season.houses[0],
            lot=lot,
            purpose="hoops",
            quantity=1,
            need_by=date(2027, 5, 1),
        )
    assert Movement.objects.filter(lot=lot).count() == 1


def test_what_is_held_again_at_the_same_moment_is_let_go_too(season, user, accepted, monkeypatch):
    house, row = season.houses[0], Reservation.objects.filter(lot__reference="L-1").first()
    let_go, times = accepting.release_houses, []

    def meanwhile(**given):
        let_go(**given)
        if len(times) < most:
            Reservation.objects.create(
                **{name: getattr(row, name) for name in ("organisation", "plan", "house", "lot", "purpose", "need_by")},
                quantity=1,
            )
        times.append(1)

    monkeypatch.setattr(accepting, "release_houses", meanwhile)
    most = accepting.TRIES
    with pytest.raises(ValidationError, match="Try again"):
        release_house(organisation=season.organisation, user=user, house=house)
    assert held(house=house, lot=row.lot) == row.quantity
    most = len(times) + 1
    release_house(organisation=season.organisation, user=user, house=house)
    assert held(house=house) == 0 and len(times) == most + 1


def test_the_recount_finds_a_hold_that_is_not_counted(accepted):
    said = StringIO()
    call_command("recount", stdout=said)
    assert f"{Reservation.objects.count():,} holds are what lots and order lines count" in said.getvalue()
    with connection.cursor() as cursor:
        on = " ON stock_lot" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER lot_reserved_is_true{on}")
        cursor.execute("UPDATE stock_lot SET reserved = reserved - 1 WHERE reference = 'L-1'")
    said = StringIO()
    with pytest.raises(CommandError, match="1 of"):
        call_command("recount", stdout=said)
    assert "lot L-1: 19 held by its count, 20 by its holds, of 20" in said.getvalue()


def test_holds_are_shown_in_the_administration(client, accepted):
    client.force_login(keeper_of_the_server())
    assert client.get(reverse("admin:stock_reservation_changelist")).status_code == 200
    row = Reservation.objects.first()
    assert client.post(reverse("admin:stock_reservation_change", args=[row.pk]), {"quantity": 1}).status_code == 403


def test_a_house_is_let_go_by_its_own_organisation_alone(accepted, season):
    house = season.houses[0]
    stranger = MembershipFactory()
    with pytest.raises(ValidationError, match="in no accepted plan"):
        release_house(organisation=stranger.organisation, user=stranger.user, house=house)
    assert held(house=house)


def test_a_house_on_a_site_out_of_use_is_not_planned_for(season, user):
    plan = plan_of(season, user)
    Site.objects.filter(pk=season.houses[0].site_id).update(archived_at=timezone.now())
    with pytest.raises(ValidationError, match=r"is archived\. Plan again without it"):
        accept_plan(organisation=season.organisation, user=user, plan=plan)
