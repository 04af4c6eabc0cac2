"""Movements that belong together, and what the database holds of them past the services."""

from __future__ import annotations

from decimal import Decimal
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from farmbuild.stock import cutting, ledger, services
from farmbuild.stock.ledger_selectors import differences, lot_history, open_loans, unequal_cuts
from farmbuild.stock.models import Cut, CutPiece, Lot, Movement
from tests.factories import FOOT, HouseFactory, LotFactory, MaterialFactory, PlaceFactory, SiteFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(organisation):
    return LotFactory(
        material=MaterialFactory(organisation=organisation), reference="RACK-1", on_hand=20, unit_cost=Decimal("12.90")
    )


@pytest.fixture
def do(organisation, user):
    """Calls a service for the user."""
    return lambda service, **given: service(organisation=organisation, user=user, **given)


@pytest.fixture
def shed(organisation):
    return PlaceFactory(organisation=organisation, name="Shed")


def on_hand(lot):
    return Lot.objects.values_list("on_hand", flat=True).get(pk=lot.pk)


def kinds(lot):
    return list(lot.movements.order_by("pk").values_list("kind", "quantity"))


# Moving


def test_part_of_a_lot_moves_to_another_place(do, lot, shed):
    made = do(ledger.move_pieces, lot=lot, quantity=8, place=shed, reason="nearer", paper="Slip 4")
    assert (on_hand(lot), on_hand(made)) == (12, 8)
    assert (made.material, made.length, made.unit_cost, made.place) == (lot.material, lot.length, lot.unit_cost, shed)
    assert kinds(made) == [("move", 8)]
    assert made.movements.get().moved_from == lot.movements.get(kind="move")
    assert made.movements.get().paper == "Slip 4"


def test_moving_too_many_or_nowhere_stores_nothing(do, lot, shed):
    with pytest.raises(ValidationError, match="has 20 pieces left, so 21"):
        do(ledger.move_pieces, lot=lot, quantity=21, place=shed)
    with pytest.raises(ValidationError, match=r"lies at .* already"):
        do(ledger.move_pieces, lot=lot, quantity=1, place=lot.place)
    with pytest.raises(ValidationError, match="Choose one from the list"):
        do(ledger.move_pieces, lot=lot, quantity=1, place=PlaceFactory())
    assert Lot.objects.count() == 1
    assert kinds(lot) == [("receive", 20)]


def test_both_ends_of_a_move_are_reversed_from_either(do, lot, shed):
    for end in ("out", "in"):
        made = do(ledger.move_pieces, lot=lot, quantity=8, place=shed)
        into = made.movements.get()
        do(ledger.reverse, movement=into.moved_from if end == "out" else into, reason="wrong shed")
        assert (on_hand(lot), on_hand(made)) == (20, 0)
    assert not list(differences())


# Lending


def test_a_loan_comes_back_in_parts(do, organisation, lot):
    loan = do(ledger.lend_pieces, lot=lot, quantity=6, borrower=" Ana  Ruiz ")
    assert (on_hand(lot), loan.borrower) == (14, "Ana Ruiz")
    do(ledger.return_loan, loan=loan, quantity=4)
    assert [(row.pk, row.out) for row in open_loans(organisation=organisation)] == [(loan.pk, 2)]
    with pytest.raises(ValidationError, match="Ana Ruiz has 2 pieces of this loan"):
        do(ledger.return_loan, loan=loan, quantity=3)
    with pytest.raises(ValidationError, match="returned some of these already"):
        do(ledger.reverse, movement=loan, reason="slip")
    back = do(ledger.return_loan, loan=loan, quantity=2)
    assert not open_loans(organisation=organisation)
    do(ledger.reverse, movement=back, reason="counted again")
    assert ledger.pieces_still_lent(loan) == 2
    assert on_hand(lot) == 18


def test_a_reversed_loan_is_not_given_back(do, organisation, lot):
    loan = do(ledger.lend_pieces, lot=lot, quantity=6, borrower="Ana Ruiz")
    do(ledger.reverse, movement=loan, reason="she took none")
    assert on_hand(lot) == 20
    assert not open_loans(organisation=organisation)
    with pytest.raises(ValidationError, match="has 0 pieces of this loan"):
        do(ledger.return_loan, loan=loan, quantity=1)


def test_a_loan_names_who_has_it(do, lot):
    with pytest.raises(ValidationError, match="Type who takes them"):
        do(ledger.lend_pieces, lot=lot, quantity=1, borrower="  ")


# Reversing


def test_a_movement_is_reversed_once_and_a_reversal_never(do, lot):
    gone = do(services.issue_pieces, lot=lot, quantity=5, reason="for the barn", paper="Sheet 2")
    [back] = do(ledger.reverse, movement=gone, reason="not taken")
    assert (back.kind, back.quantity, back.reverses) == ("issue", 5, gone)
    assert on_hand(lot) == 20
    with pytest.raises(ValidationError, match="was reversed already"):
        do(ledger.reverse, movement=gone, reason="again")
    with pytest.raises(ValidationError, match="is itself a reversal"):
        do(ledger.reverse, movement=back, reason="again")
    with pytest.raises(ValidationError, match="Say why"):
        do(ledger.reverse, movement=lot.movements.first(), reason=" ")


def test_pieces_that_are_gone_are_not_taken_out_again(do, lot):
    do(services.issue_pieces, lot=lot, quantity=5, reason="barn")
    with pytest.raises(ValidationError, match="has 15 pieces left, and 20 would have to come out"):
        do(ledger.reverse, movement=lot.movements.first(), reason="never came")
    assert on_hand(lot) == 15


def test_nobody_reverses_a_movement_of_another_farm(do, lot):
    with pytest.raises(Movement.DoesNotExist):
        do(ledger.reverse, movement=LotFactory().movements.get(), reason="mine")


# Cutting


def test_a_cut_makes_pieces_and_offcut_at_once(do, lot):
    done = do(cutting.cut_sticks, lot=lot, sticks=3, pieces=[FOOT * 2, FOOT * 2, FOOT * 3], paper="Cut list 7")
    assert on_hand(lot) == 17
    assert [(row.length, on_hand(row)) for row in done.pieces] == [(FOOT * 2, 6), (FOOT * 3, 3)]
    assert (done.offcut.length, on_hand(done.offcut)) == (FOOT * 3 - 3 * Decimal("3.175"), 3)
    assert sum(row.value for row in (*done.pieces, done.offcut)) == 3 * Decimal("12.90")
    assert done.offcut.value == Decimal("11.49"), "2.96875 of 10 feet of 3 x 12.90"
    assert all(row.offcut for row in (*done.pieces, done.offcut))
    assert {(row.kind, row.paper) for row in done.cut.movements.all()} == {("cut", "Cut list 7")}
    assert not list(differences())
    assert not list(unequal_cuts())


def test_pieces_go_to_the_house_straight_away(do, organisation, lot):
    house = HouseFactory(site=SiteFactory(organisation=organisation))
    done = do(cutting.cut_sticks, lot=lot, sticks=2, pieces=[FOOT * 4, FOOT * 4], house=house)
    [posts] = done.pieces
    assert kinds(posts) == [("cut", 4), ("issue", -4)]
    assert posts.movements.last().house == house
    # It would be the whole cut that comes back.
    assert ledger.issue_to_put_back(lot=posts) is None
    assert done.offcut is None
    assert done.cut.scrap_nm == (FOOT * 2 - 2 * Decimal("3.175")) * 10**6


def test_a_cut_that_cannot_be_stores_nothing(do, lot):
    for given, words in (
        ({"sticks": 1, "pieces": [FOOT * 6, FOOT * 5]}, r"longer than the stick of 10.+3.+048 mm"),
        ({"sticks": 21, "pieces": [FOOT]}, "has 20 pieces left, so 21"),
        ({"sticks": 1, "pieces": [FOOT * 10]}, "needs no cut"),
        ({"sticks": 1, "pieces": []}, "Type the length"),
        ({"sticks": 0, "pieces": [FOOT]}, "whole number"),
    ):
        with pytest.raises(ValidationError, match=words):
            do(cutting.cut_sticks, lot=lot, **given)
    assert Lot.objects.count() == 1
    assert not Cut.objects.exists()
    assert kinds(lot) == [("receive", 20)]


def test_a_whole_cut_is_reversed_from_any_of_its_movements(do, organisation, lot):
    house = HouseFactory(site=SiteFactory(organisation=organisation))
    done = do(cutting.cut_sticks, lot=lot, sticks=2, pieces=[FOOT * 4, FOOT], house=house)
    do(ledger.reverse, movement=done.pieces[1].movements.last(), reason="wrong lot")
    assert on_hand(lot) == 20
    assert not Lot.objects.exclude(pk=lot.pk).filter(on_hand__gt=0).exists()
    assert not list(differences())
    with pytest.raises(ValidationError, match="was reversed already"):
        do(ledger.reverse, movement=done.cut.movements.first(), reason="again")


def test_a_cut_stays_when_its_pieces_are_gone_or_more(do, lot):
    done = do(cutting.cut_sticks, lot=lot, sticks=2, pieces=[FOOT * 4])
    do(services.scrap, lot=done.pieces[0], quantity=1, reason="bent")
    with pytest.raises(ValidationError, match="has 1 piece left, and 2 would have to come out"):
        do(ledger.reverse, movement=done.cut.movements.first(), reason="slip")
    do(services.return_pieces, lot=done.pieces[0], quantity=2, reason="found")
    with pytest.raises(ValidationError, match="Pieces went into"):
        do(ledger.reverse, movement=done.cut.movements.first(), reason="slip")


# What the database holds


def refused(words, work):
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        work()


def test_movements_and_cuts_are_never_changed_or_deleted(do, lot):
    done = do(cutting.cut_sticks, lot=lot, sticks=1, pieces=[FOOT * 4])
    for model, change in ((Movement, {"reason": "x"}), (Cut, {"sticks": 2}), (CutPiece, {"each": 2})):
        rows = model.objects.all()
        assert rows.exists()
        refused("never_edited", lambda rows=rows, change=change: rows.update(**change))
    refused("never_deleted", lambda: Movement.objects.all()._raw_delete("default"))
    refused("never_deleted", lambda: done.cut.pieces.all()._raw_delete("default"))
    assert done.cut.movements.count() == 3


def test_a_cut_that_loses_length_is_not_stored(lot):
    row = {"organisation": lot.organisation, "lot": lot, "sticks": 1, "stick_nm": 100, "kerf_nm": 3, "kerfs": 2}
    Cut.objects.create(**row, pieces_nm=80, offcut_nm=10, scrap_nm=4)
    refused("cut_loses_no_length", lambda: Cut.objects.create(**row, pieces_nm=80, offcut_nm=10, scrap_nm=3))
    refused("cut_lengths", lambda: Cut.objects.create(**row, pieces_nm=80, offcut_nm=24, scrap_nm=-10))


def test_movements_that_answer_nothing_are_not_stored(do, lot, shed):
    def make(*, lot, quantity, **fields):
        """At the 12.90 of each."""
        usual = {"amount": quantity * Decimal("12.90")}
        return Movement.objects.create(lot=lot, quantity=quantity, **(usual | fields))

    out = do(services.issue_pieces, lot=lot, quantity=5, reason="barn")
    other = LotFactory(material=lot.material)
    refused("reverses_its_like", lambda: make(lot=lot, kind="issue", quantity=4, amount=-out.amount, reverses=out))
    refused("reverses_its_amount", lambda: make(lot=lot, kind="issue", quantity=5, amount=60, reverses=out))
    refused("reverses_its_like", lambda: make(lot=other, kind="issue", quantity=5, reverses=out))
    back = do(ledger.reverse, movement=out, reason="slip")[0]
    refused("reverses_its_like", lambda: make(lot=lot, kind="issue", quantity=-5, reverses=back))
    refused("(?i)unique", lambda: make(lot=lot, kind="issue", quantity=5, reverses=out))
    loan = do(ledger.lend_pieces, lot=lot, quantity=2, borrower="Ana")
    giving = {"lot": lot, "kind": "givenback", "borrower": "Ana", "gives_back": loan}
    refused("too_much", lambda: make(**giving, quantity=3))
    refused("names_the_borrower", lambda: make(lot=lot, kind="lend", quantity=-1))
    refused("gives_back_what", lambda: make(lot=lot, kind="givenback", quantity=1, borrower="Ana"))
    refused("right_way", lambda: make(lot=lot, kind="scrap", quantity=1))
    refused("comes_from_a_place", lambda: make(lot=other, kind="move", quantity=1))
    gone = make(lot=lot, kind="move", quantity=-3)
    refused("comes_from_its_like", lambda: make(lot=LotFactory(), kind="move", quantity=3, moved_from=gone))
    refused("movement_of_a_cut", lambda: make(lot=lot, kind="cut", quantity=-1))


# Recounting


def test_the_recount_is_one_query_and_finds_what_is_wrong(lot):
    for _ in range(5):
        LotFactory(material=lot.material)
    said = StringIO()
    call_command("recount", stdout=said)
    assert "6 lots agree with the sum of their 6 movements" in said.getvalue()
    Lot.objects.filter(pk=lot.pk).update(on_hand=19)
    with CaptureQueriesContext(connection) as asked:
        [found] = differences()
    assert len(asked) == 1
    assert (found.lot, found.on_hand, found.summed) == (lot, 19, 20)
    with pytest.raises(CommandError, match="1 of 6 lots"):
        call_command("recount", stdout=said)
    assert "lot RACK-1: 19 on hand, 20 by its movements" in said.getvalue()


def test_a_lot_shows_the_count_after_each_movement(do, organisation, lot):
    do(services.scrap, lot=lot, quantity=3, reason="bent")
    do(services.return_pieces, lot=lot, quantity=1, reason="found")
    rows = lot_history(organisation=organisation, lot=lot)
    assert [(row.quantity, row.running) for row in rows] == [(1, 18), (-3, 17), (20, 20)]
