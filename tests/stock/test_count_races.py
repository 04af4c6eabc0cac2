"""Eight people at one count at once, each with a connection of their own. Runs on SQLite and on PostgreSQL."""

from __future__ import annotations

import random
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.stock import services as stock
from farmbuild.stock.counts import posting, services
from farmbuild.stock.counts.services import Counted
from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import CountEntry, CountPlace, Movement, StockCount
from tests.factories import LotFactory, MaterialFactory, MembershipFactory, PlaceFactory

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8


def at_once(work):
    """Results of ``work(number)`` in THREADS threads; what they raise is raised here."""

    def alone(number):
        try:
            return work(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


@pytest.fixture
def who():
    member = MembershipFactory()
    return {"organisation": member.organisation, "user": member.user}


@pytest.fixture
def place(who):
    return PlaceFactory(organisation=who["organisation"])


@pytest.fixture
def lots(who, place):
    material = MaterialFactory(organisation=who["organisation"])
    return LotFactory.create_batch(THREADS, material=material, place=place, on_hand=100)


def test_no_entry_of_anybody_is_lost(who, place, lots):
    count = services.start_count(**who, places=[place])

    def work(number):
        for _ in range(3):
            # Everybody's own lot, and one that all of them count.
            counted = [Counted(lots[0].pk, 90 + number)]
            counted += [Counted(lots[number].pk, 50 + number)] if number else []
            services.record_counts(**who, count=count, counted=counted)

    at_once(work)
    assert CountEntry.objects.count() == 3 * (THREADS + THREADS - 1)
    for line in count.lines.all():
        last = line.entries.first()
        assert (line.counted, line.times) == (last.counted, line.entries.count())
    assert {line.lot_id: line.counted for line in count.lines.exclude(lot=lots[0])} == {
        lot.pk: 50 + number for number, lot in enumerate(lots) if number
    }


def test_posting_at_once_happens_once(who, place, lots):
    count = services.start_count(**who, places=[place])
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 93) for lot in lots])

    def work(number):
        try:
            posting.post_count(**who, count=count)
        except ValidationError as error:
            assert "is posted" in str(error)
            return 0
        return 1

    assert sum(at_once(work)) == 1
    assert Movement.objects.filter(kind=Movement.Kind.COUNT).count() == len(lots)
    for lot in lots:
        lot.refresh_from_db()
        assert lot.on_hand == 93


def test_a_place_is_started_by_one(who, place, lots):
    def work(number):
        try:
            services.start_count(**who, places=[place])
        except ValidationError as error:
            assert "is being counted in count 1" in str(error)
            return 0
        return 1

    assert sum(at_once(work)) == 1
    assert (StockCount.objects.count(), CountPlace.objects.count()) == (1, 1)


def test_counting_while_stock_moves_ends_on_what_lies_there(who, place, lots):
    """Everybody hands pieces out of a lot and counts it in turn, in any order; five are missing in each unknown.

    Whenever a lot was counted last, posting leaves in the books what really lies there.
    """
    count = services.start_count(**who, places=[place])
    missing = 5

    def work(number):
        chance = random.Random(number)
        lot, taken = lots[number], 0
        turns = ["take"] * 10 + ["count"] * 3
        chance.shuffle(turns)
        for turn in turns:
            if turn == "take":
                stock.issue_pieces(**who, lot=lot, quantity=2, reason="race")
                taken += 2
            else:
                services.record_counts(**who, count=count, counted=[Counted(lot.pk, 100 - missing - taken)])
        return taken

    results = at_once(work)
    posting.post_count(**who, count=count)
    assert list(differences(organisation=who["organisation"])) == []
    for lot, taken in zip(lots, results, strict=True):
        lot.refresh_from_db()
        assert lot.on_hand == 100 - missing - taken
    assert {line.movement.quantity for line in count.lines.all()} == {-missing}
