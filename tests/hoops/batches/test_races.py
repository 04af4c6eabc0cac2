"""Eight people at one batch at once, each with a connection of their own. Runs on SQLite and on PostgreSQL."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection
from django.db.models import Sum

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import BatchSticks, BentHoops, HoopBatch
from farmbuild.stock.models import Movement
from farmbuild.stock.services import issue_pieces
from tests.factories import FOOT, INCH, MembershipFactory
from tests.hoops.batches.making import TARGET, make_shop

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8


@pytest.fixture
def busy():
    member = MembershipFactory()
    return make_shop(member.organisation, member.user)


def at_once(work):
    """Results of ``work(number)`` in THREADS threads; what they raise is raised here."""

    def alone(number):
        try:
            return work(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


def whole(shop) -> HoopBatch:
    """The batch's sums are those of its rows, and the lot's those of its movements."""
    batch = shop.now()
    shop.lot.refresh_from_db()
    moved = BatchSticks.objects.filter(batch=batch).aggregate(sum=Sum("movement__quantity"))["sum"] or 0
    assert batch.sticks_issued == -moved
    assert batch.hoops_bent == (batch.bent.aggregate(sum=Sum("hoops"))["sum"] or 0)
    assert batch.attempts == batch.trials.count()
    assert shop.lot.on_hand == shop.lot.movements.aggregate(sum=Sum("quantity"))["sum"] == 60 + moved
    return batch


def test_eight_at_a_shut_gate(busy):
    def work(number):
        passed = 0
        for _ in range(6):
            for attempt in (
                lambda: busy.issue(1),
                lambda: services.record_bent(**busy.on, hoops=1),
                lambda: services.return_sticks(**busy.on, lot=busy.lot, quantity=1) if number % 2 else None,
            ):
                try:
                    passed += attempt() is not None
                except ValidationError:
                    continue
                batch = HoopBatch.objects.get(pk=busy.batch.pk)
                assert batch.sticks_issued <= 2
                assert batch.hoops_bent == 0
        return passed

    assert sum(at_once(work)) >= 2
    batch = whole(busy)
    assert batch.sticks_issued <= 2
    assert not BentHoops.objects.exists()


def test_eight_past_the_services(busy):
    """Rows written straight to the tables: the database keeps the gate by itself."""
    movements = [issue_pieces(**busy.who, lot=busy.lot, quantity=1, reason="race") for _ in range(THREADS)]

    def work(number):
        taken = 0
        for write in (
            lambda: BatchSticks.objects.create(batch=busy.batch, movement=movements[number]),
            lambda: BentHoops.objects.create(batch=busy.batch, hoops=1),
        ):
            try:
                write()
                taken += 1
            except IntegrityError as error:
                assert "batch_" in str(error)
        return taken

    assert sum(at_once(work)) == 2
    batch = busy.now()
    assert (batch.sticks_issued, batch.hoops_bent) == (2, 0)
    assert BatchSticks.objects.count() == 2


def test_eight_after_proof_share_what_there_is(busy):
    busy.prove()
    busy.issue(20)

    def work(number):
        bent = 0
        for _ in range(3):
            try:
                services.record_bent(**busy.on, hoops=1)
                bent += 1
            except ValidationError as error:
                assert "unbent" in str(error)
        return bent

    assert sum(at_once(work)) == 10
    batch = whole(busy)
    assert (batch.hoops_bent, batch.sticks_issued) == (11, 22)


def test_a_trial_hoop_is_accepted_once(busy):
    busy.issue(2)
    trial = busy.measure(TARGET)

    def work(number):
        try:
            services.accept_trial(**busy.on, trial=trial)
            return 1
        except ValidationError as error:
            assert "accepted already" in str(error)
            return 0

    assert sum(at_once(work)) == 1
    assert whole(busy).hoops_bent == 1


@pytest.mark.parametrize("said", [{"same_sticks": True}, {"same_sticks": False}], ids=["pulled again", "fresh"])
def test_eight_measure_at_once(busy, said):
    """What one says of the sticks of a trial hoop never counts for those of another measured meanwhile."""
    busy.issue(2)

    def kept(**more) -> int:
        def work(number):
            try:
                return bool(busy.measure(INCH * (140 + number), **more))
            except ValidationError as error:
                assert "meanwhile" in str(error) or "Say which sticks" in str(error)
                return 0

        return sum(at_once(work))

    assert kept(same_sticks=None) == 1
    fresh = not said["same_sticks"]
    assert kept(**said, seen=1, lot=busy.lot) == 1
    assert sorted(busy.batch.trials.values_list("attempt", "fresh_sticks")) == [(1, 2), (2, 2 if fresh else 0)]
    assert whole(busy).sticks_issued == (4 if fresh else 2)


def test_numbers_have_no_gaps_or_repeats(busy):
    given = {"recipe": busy.batch.recipe, "bender": busy.batch.bender, "quantity": 2, "shares": {}}

    def work(number):
        numbers = []
        for turn in range(4):
            try:
                span = FOOT * (12 if turn % 2 else 20)
                numbers.append(services.create_batch(**busy.who, **given, data={"post_span": span}).number)
            except ValidationError:
                assert not turn % 2
        return numbers

    made = sorted(number for numbers in at_once(work) for number in numbers)
    assert made == list(range(2, 2 + THREADS * 2))
    assert Movement.objects.count() == 1
