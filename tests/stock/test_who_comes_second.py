"""Whoever comes second at a lot or a count is told what is true once the first has ended."""

from __future__ import annotations

from datetime import date

import pytest
from django.utils import timezone

from farmbuild.stock import ledger, services
from farmbuild.stock.counts import importing, posting
from farmbuild.stock.counts import services as counts
from farmbuild.stock.counts.services import Counted
from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import CountDraft, CountLine, Lot
from tests.factories import LotFactory, MaterialFactory
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def lot(organisation):
    return LotFactory(material=MaterialFactory(organisation=organisation), reference="RACK-1", on_hand=20)


@pytest.fixture
def count(who, lot):
    return counts.start_count(**who, places=[lot.place])


def issue(who, lot, quantity):
    return lambda: services.issue_pieces(**who, lot=lot, quantity=quantity, reason="barn")


def test_no_more_of_a_loan_comes_back_than_is_out(who, lot):
    loan = ledger.lend_pieces(**who, lot=lot, quantity=6, borrower="Ana Ruiz")

    def give():
        ledger.return_loan(**who, loan=loan, quantity=4)

    assert "Ana Ruiz has 2 pieces of this loan, so 4 cannot come back" in comes_second(give, give)
    assert ledger.pieces_still_lent(loan) == 2


def test_a_movement_is_reversed_by_one(who, lot):
    gone = services.issue_pieces(**who, lot=lot, quantity=5, reason="barn")

    def back():
        ledger.reverse(**who, movement=gone, reason="not taken")

    assert comes_second(back, back) == "This movement was reversed already."


def test_a_count_by_hand_sees_what_was_taken(who, lot):
    def correct():
        services.adjust_by_count(**who, lot=lot, counted=18, seen=20, reason="counted")

    assert "the stock record went from 20 pieces to 15" in comes_second(issue(who, lot, 5), correct)


def test_a_reference_is_given_once(who, lot):
    def receive():
        made = services.receive_lot(
            **who, material=lot.material, quantity=1, place=lot.place, received_on=date(2027, 3, 1), length=lot.length
        )
        return made.reference

    assert comes_second(receive, receive) == "L-0002"


def test_nothing_is_entered_in_a_count_that_has_ended(who, lot, count):
    said = comes_second(
        lambda: counts.cancel_count(**who, count=count),
        lambda: counts.record_counts(**who, count=count, counted=[Counted(lot.pk, 19)]),
    )
    assert said == f"{count} is cancelled; nothing of it changes any more."
    assert CountLine.objects.get().counted is None


def test_an_entry_is_held_against_the_books_after_what_was_taken(who, lot, count):
    comes_second(issue(who, lot, 5), lambda: counts.record_counts(**who, count=count, counted=[Counted(lot.pk, 15)]))
    assert CountLine.objects.get().expected == 15
    posting.post_count(**who, count=count)
    assert Lot.objects.get(pk=lot.pk).on_hand == 15
    assert not list(differences())


def test_a_posting_sees_what_was_taken(who, lot, count):
    counts.record_counts(**who, count=count, counted=[Counted(lot.pk, 3)], counted_at=timezone.now())
    said = comes_second(issue(who, lot, 5), lambda: posting.post_count(**who, count=count))
    assert said == "Lot RACK-1: counted were 3, and more than that was taken out since. Count it again."


def test_a_sheet_of_a_count_is_entered_once(who, lot, count):
    draft = CountDraft.objects.create(
        **who, count=count, filename="rack.xlsx", rows=[{"key": lot.pk, "counted": 19}], bad_rows=0
    )

    def store():
        importing.store_draft(**who, draft=draft)

    assert comes_second(store, store) == "This sheet has been entered already, or another one was sent since."
    assert CountLine.objects.get().times == 1
