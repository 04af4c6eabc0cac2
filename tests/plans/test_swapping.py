"""A house pulled forward takes another's sticks by a swap that shows what it does to both."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db.models import F, Sum

from farmbuild.hoops.batches.services import create_batch, issue_sticks, return_sticks
from farmbuild.plans.accepting import accept_plan, release_house
from farmbuild.plans.reserving import swapping
from farmbuild.plans.reserving.services import release
from farmbuild.plans.selectors import changes_since
from farmbuild.sites.services import archive_house, save_house
from farmbuild.stock.cutting import cut_reserved, cut_sticks, lengths_of
from farmbuild.stock.ledger import move_pieces, reverse
from farmbuild.stock.models import HeldPiece, Lot, Reservation
from farmbuild.stock.reserving.selectors import reservations_of
from farmbuild.stock.reserving.services import NewReservation, reserve
from farmbuild.stock.services import adjust_by_count, issue_pieces, receive_more, return_pieces
from tests.factories import PlaceFactory
from tests.hoops.batches.making import make_bender
from tests.plans.test_accepting import held, plan_of

TODAY = date(2027, 3, 1)


@pytest.fixture
def both(season, user):
    """North holds the yard's rail; Creek holds its place in an order, and is pulled forward."""
    north, creek = season.houses
    for house in (north, creek):
        plan = plan_of(season, user, houses=[house])
        accept_plan(organisation=season.organisation, user=user, plan=plan)
    return season


@pytest.fixture
def pair(both):
    rows = reservations_of(organisation=both.organisation)
    own = rows.filter(house=both.houses[1], order_line__material__code="rail")
    waiting = own.get(order_line__order__plan=F("plan"))
    yard = rows.get(house=both.houses[0], lot__reference="L-1")
    return waiting, yard


def shown(season, waiting, yard, quantity, today=TODAY):
    return swapping.effect_of(
        organisation=season.organisation, waiting=waiting, held=yard, quantity=quantity, today=today
    )


def post(season, user, waiting, yard, quantity, seen, today=TODAY):
    return swapping.swap(
        organisation=season.organisation,
        user=user,
        waiting=waiting.pk,
        held=yard.pk,
        quantity=quantity,
        seen=seen,
        today=today,
    )


def test_both_sides_are_shown_before_anything_is_swapped(both, pair):
    waiting, yard = pair
    assert yard in swapping.sooner_reservations(organisation=both.organisation, waiting=waiting)
    effect = shown(both, waiting, yard, 5)
    due = swapping.ready_on(waiting)
    assert (effect.taker.house, effect.taker.before, effect.taker.after) == ("Creek 1", due, None)
    assert (effect.giver.house, effect.giver.before, effect.giver.after) == ("North 1", None, due)
    # Ordered for the 20th and needed on the 12th: eight days late, unless bought with nine days to come.
    assert effect.giver.late_after == (due - date(2027, 5, 12)).days == 8
    assert effect.giver.buying == swapping.Buying("Invented Pipe", date(2027, 5, 3), False, date(2027, 3, 10))
    assert shown(both, waiting, yard, 5, today=date(2027, 5, 8)).giver.buying.overdue
    assert held(house=both.houses[0], lot=yard.lot) == yard.quantity


def test_a_swap_moves_both_holds_and_loses_nothing(both, user, pair):
    waiting, yard = pair
    line, lot = waiting.order_line, yard.lot
    before = {house.pk: held(house=house) for house in both.houses}
    post(both, user, waiting, yard, 5, shown(both, waiting, yard, 5).seen)
    north, creek = both.houses
    assert held(house=creek, lot=lot) == 5 and held(house=north, order_line=line) == 5
    assert {house.pk: held(house=house) for house in both.houses} == before
    lot.refresh_from_db()
    assert lot.reserved == held(lot=lot)
    purposes = set(Reservation.objects.filter(house=north, order_line=line).values_list("purpose", flat=True))
    assert purposes == {yard.purpose}
    issue_pieces(organisation=both.organisation, user=user, lot=lot, quantity=5, reason="", house=creek)


def test_only_what_was_shown_is_swapped(both, user, pair):
    waiting, yard = pair
    seen = shown(both, waiting, yard, 5).seen
    release(organisation=both.organisation, user=user, reservation=yard, quantity=1)
    with pytest.raises(ValidationError, match="Someone changed one of these holds"):
        post(both, user, waiting, yard, 5, seen)
    assert held(house=both.houses[1], lot=yard.lot) == 0
    for quantity in (0, yard.quantity + 100):
        with pytest.raises(ValidationError, match="from 1 to"):
            shown(both, waiting, yard, quantity)


def test_the_days_follow_the_house(both, user, pair):
    creek = both.houses[1]
    creek.refresh_from_db()
    save_house(
        organisation=both.organisation,
        user=user,
        house=creek,
        data={"need_date": date(2027, 4, 20)},
    )
    waiting = reservations_of(organisation=both.organisation).get(pk=pair[0].pk)
    assert waiting.need_by == date(2027, 4, 20)
    assert shown(both, waiting, pair[1], 2).taker.late_before == 30


def test_a_house_that_holds_is_not_archived(both, user):
    with pytest.raises(ValidationError, match="held by an accepted plan for North 1"):
        archive_house(organisation=both.organisation, user=user, house=both.houses[0])
    release_house(organisation=both.organisation, user=user, house=both.houses[0])
    archive_house(organisation=both.organisation, user=user, house=both.houses[0])


def test_held_sticks_are_cut_as_planned_and_each_house_holds_its_pieces(ready, user):
    organisation = ready.organisation
    accept_plan(organisation=organisation, user=user, plan=ready)
    row = reservations_of(organisation=organisation).filter(lot__reference="L-2").get()
    wanted = {(piece.house_id, piece.length): piece.each for piece in row.pieces.all()}
    done = cut_reserved(organisation=organisation, user=user, reservation=row, sticks=1)
    assert sum(lot.on_hand for lot in done.pieces) == sum(wanted.values()) == len(lengths_of(row))
    for (house, length), each in wanted.items():
        lots = [lot.pk for lot in done.pieces if lot.length == length]
        assert held(lot__in=lots, house=house) == each
    assert not Reservation.objects.filter(pk=row.pk).exists()
    assert changes_since(plan=ready) == []
    with pytest.raises(ValidationError, match="0 sticks of this lot are held"):
        cut_reserved(organisation=organisation, user=user, reservation=row, sticks=1)


def test_a_cut_of_held_sticks_is_reversed_once_the_pieces_are_let_go(ready, user):
    given = {"organisation": ready.organisation, "user": user}
    accept_plan(**given, plan=ready)
    row = reservations_of(organisation=ready.organisation).filter(lot__reference="L-2").get()
    wanted = sorted((piece.house_id, piece.purpose, piece.length, piece.each) for piece in row.pieces.all())
    done = cut_reserved(**given, reservation=row, sticks=1)
    movement = done.cut.movements.get(lot=row.lot)
    with pytest.raises(ValidationError, match="held are"):
        reverse(**given, movement=movement, reason="wrong stick")
    for held_piece in Reservation.objects.filter(lot__in=[lot.pk for lot in done.pieces]):
        release(**given, reservation=held_piece, quantity=held_piece.quantity)
    reverse(**given, movement=movement, reason="wrong stick")
    again = Reservation.objects.get(lot=row.lot)
    assert (again.house_id, again.quantity, again.purpose) == (row.house_id, 1, row.purpose)
    assert sorted(again.pieces.values_list("house", "purpose", "length", "each")) == wanted


def test_a_held_stick_is_not_cut_for_something_else(ready, user):
    accept_plan(organisation=ready.organisation, user=user, plan=ready)
    lot = Lot.objects.get(reference="L-2")
    with pytest.raises(ValidationError, match="None of them is free"):
        cut_sticks(organisation=ready.organisation, user=user, lot=lot, sticks=1, pieces=[lot.length / 2])


def test_what_comes_back_is_held_again(both, user, pair):
    organisation, north, lot = both.organisation, both.houses[0], pair[1].lot
    was = held(lot=lot, house=north)
    given = {"organisation": organisation, "user": user}
    out = issue_pieces(**given, lot=lot, quantity=4, reason="", house=north)
    return_pieces(**given, lot=lot, quantity=1, reason="", house=north)
    assert held(lot=lot, house=north) == was - 3
    reverse(**given, movement=out, reason="wrong house")
    assert held(lot=lot, house=north) == was
    # Not for a house that no plan builds any more.
    out = issue_pieces(**given, lot=lot, quantity=2, reason="", house=north)
    release_house(**given, house=north)
    reverse(**given, movement=out, reason="wrong house")
    assert held(lot=lot) == 0


def test_holds_go_along_to_another_place(both, user, pair):
    organisation, north, lot = both.organisation, both.houses[0], pair[1].lot
    there = PlaceFactory(organisation=organisation)
    given = {"organisation": organisation, "user": user, "lot": lot, "place": there}
    with pytest.raises(ValidationError, match="held are"):
        move_pieces(**given, quantity=3)
    made = move_pieces(**given, quantity=3, house=north)
    assert (made.on_hand, held(lot=made, house=north)) == (3, 3)


def test_a_count_below_what_is_held_names_the_holders(both, user, pair):
    lot = pair[1].lot
    with pytest.raises(ValidationError, match=r"more than were counted: .* for North 1"):
        adjust_by_count(organisation=both.organisation, user=user, lot=lot, counted=1, seen=lot.on_hand, reason="count")


def test_sticks_for_a_batch_use_what_its_houses_hold_for_hoops(both, user, pair):
    organisation, north, lot = both.organisation, both.houses[0], pair[1].lot
    north.refresh_from_db()
    batch = create_batch(
        organisation=organisation,
        user=user,
        recipe=north.recipe,
        bender=make_bender(organisation),
        quantity=5,
        shares={north: 5},
        data={"post_span": north.post_span},
    )
    was = held(lot=lot, house=north, purpose="hoops")
    issue_sticks(organisation=organisation, user=user, batch=batch, lot=lot, quantity=2)
    assert held(lot=lot, house=north, purpose="hoops") == was - 2
    return_sticks(organisation=organisation, user=user, batch=batch, lot=lot, quantity=1)
    assert held(lot=lot, house=north, purpose="hoops") == was - 1


def test_as_many_as_houses_hold_may_be_counted_and_none_is_let_go_for_nothing(both, user, pair):
    who, lot = {"organisation": both.organisation, "user": user}, Lot.objects.get(pk=pair[1].lot.pk)
    with pytest.raises(ValidationError, match="Type a number up to that"):
        release(**who, reservation=pair[1], quantity=0)
    receive_more(**who, lot=lot, quantity=3)
    lot.refresh_from_db()
    adjust_by_count(**who, lot=lot, counted=lot.reserved, seen=lot.on_hand, reason="count")
    lot.refresh_from_db()
    assert lot.on_hand == lot.reserved > 0 and lot.free == 0


def test_of_the_houses_of_a_batch_the_first_that_needs_hoops_gives_all_the_sticks_of_its_own_first(both, user, pair):
    """North is first by its day, Creek by its name; a hoop takes two sticks."""
    organisation, (north, creek), lot = both.organisation, both.houses, pair[1].lot
    north.refresh_from_db()
    creek.refresh_from_db()
    assert north.need_date < creek.need_date and creek.slug < north.slug and north.recipe == creek.recipe
    receive_more(organisation=organisation, user=user, lot=lot, quantity=4)
    wanted = NewReservation(4, creek.pk, "hoops", creek.need_date, lot=lot.pk)
    reserve(organisation=organisation.pk, plan=pair[0].plan_id, user=user.pk, wanted=[wanted])
    batch = create_batch(
        organisation=organisation,
        user=user,
        recipe=north.recipe,
        bender=make_bender(organisation),
        quantity=2,
        shares={creek: 1, north: 1},
        data={"post_span": north.post_span},
    )
    was = held(lot=lot, house=north, purpose="hoops")
    issue_sticks(organisation=organisation, user=user, batch=batch, lot=lot, quantity=2)
    assert held(lot=lot, house=north, purpose="hoops") == was - 2
    assert held(lot=lot, house=creek, purpose="hoops") == 4


def test_a_shared_stick_stays_with_the_other_house(season, user, ready):
    accept_plan(organisation=season.organisation, user=user, plan=ready)
    shared = [
        row.reservation_id
        for row in HeldPiece.objects.select_related("reservation")
        if row.house_id != row.reservation.house_id
    ]
    assert shared, "the season has no stick that is cut for both houses"
    before = Reservation.objects.filter(pk__in=shared).aggregate(sum=Sum("quantity"))["sum"]
    release_house(organisation=season.organisation, user=user, house=season.houses[0])
    rows = Reservation.objects.filter(pk__in=shared)
    assert rows.aggregate(sum=Sum("quantity"))["sum"] == before
    assert set(rows.values_list("house", "need_by")) == {(season.houses[1].pk, date(2027, 5, 12) + timedelta(days=8))}
