"""Counting: what a difference is when stock moves meanwhile, who wins, and that the books change once or not at all."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.db.models import Sum
from django.utils import timezone

from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.reserving.services import release
from farmbuild.stock import ledger
from farmbuild.stock import services as stock
from farmbuild.stock.counts import posting, selectors, services
from farmbuild.stock.counts.services import Counted
from farmbuild.stock.models import CountEntry, CountFind, CountLine, Lot, Movement, Reservation, StockCount
from farmbuild.stock.reserving.services import NewReservation, reserve
from tests.factories import FOOT, HouseFactory, LotFactory, MaterialFactory, OrganisationFactory, PlaceFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def rack(organisation):
    return PlaceFactory(organisation=organisation, name="Rack")


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, code="rail")


@pytest.fixture
def lot(rail, rack):
    return LotFactory(material=rail, place=rack, reference="RACK-1", on_hand=20, unit_cost=Decimal("12.90"))


@pytest.fixture
def count(who, lot, rack):
    return services.start_count(**who, places=[rack])


def on_hand(lot) -> int:
    """As kept, which has to be the sum of the movements."""
    lot.refresh_from_db()
    assert lot.on_hand == lot.movements.aggregate(sum=Sum("quantity"))["sum"]
    return lot.on_hand


def difference(count, lot) -> int:
    return selectors.with_difference(CountLine.objects.filter(count=count)).get(lot=lot).difference


def test_what_came_after_the_counting_is_no_difference_of_it(who, count, rail, rack):
    """Counted before the lot was written into the books: they said none then, and its pieces came since."""
    before = timezone.now()
    later = LotFactory(material=rail, place=rack, on_hand=20)
    services.record_counts(**who, count=count, counted=[Counted(later.pk, 2)], counted_at=before)
    assert difference(count, later) == 2 and count.lines.get(lot=later).expected == 0


def test_a_sheet_has_every_lot_that_lies_in_the_places(who, rack, rail, lot):
    LotFactory(material=rail, place=rack, on_hand=0)
    LotFactory(material=rail, place=PlaceFactory(organisation=who["organisation"]))
    count = services.start_count(**who, places=[rack])
    assert [line.lot for line in count.lines.all()] == [lot]
    assert count.number == 1
    assert str(count) == "Count 1"


def test_a_place_is_in_one_open_count(who, count, rack):
    with pytest.raises(ValidationError, match="Rack is being counted in count 1"):
        services.start_count(**who, places=[rack])
    services.cancel_count(**who, count=count)
    assert services.start_count(**who, places=[rack]).number == 2


def test_posting_sets_the_books_to_what_was_counted(who, count, lot):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 17)])
    posting.post_count(**who, count=count)
    assert on_hand(lot) == 17
    movement = lot.movements.get(kind=Movement.Kind.COUNT)
    assert (movement.quantity, movement.paper, movement.by) == (-3, "Count 1", who["user"])
    assert movement.reason == "Counted 17 where the stock record said 20"
    line = count.lines.get()
    assert (line.movement, line.worth) == (movement, Decimal("-38.7"))


def test_what_moves_after_the_counting_is_kept(who, count, lot):
    stock.scrap(**who, lot=lot, quantity=2, reason="bent")
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 17)])
    stock.issue_pieces(**who, lot=lot, quantity=5, reason="gate")
    assert difference(count, lot) == -1
    posting.post_count(**who, count=count)
    # 17 lay there, 5 were handed out since.
    assert on_hand(lot) == 12


def test_a_sheet_of_paper_is_held_against_the_books_of_its_time(who, count, lot):
    """Counted before the issue, entered after it: the issue is no difference."""
    counted_at = timezone.now()
    stock.issue_pieces(**who, lot=lot, quantity=5, reason="gate")
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 19)], counted_at=counted_at)
    line = count.lines.get()
    assert (line.expected, difference(count, lot)) == (20, -1)
    posting.post_count(**who, count=count)
    assert on_hand(lot) == 14


@pytest.mark.parametrize("shift", [timedelta(days=-1), timedelta(hours=1)])
def test_a_time_outside_the_count_is_refused(who, count, lot, shift):
    with pytest.raises(ValidationError, match="when Count 1 was started, up to now"):
        services.record_counts(**who, count=count, counted=[Counted(lot.pk, 1)], counted_at=timezone.now() + shift)
    assert not CountEntry.objects.exists()


def test_nothing_is_put_right_twice(who, count, lot):
    """Someone counts the lot on its own page between the counting and the posting."""
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 17)])
    stock.adjust_by_count(**who, lot=lot, counted=17, seen=20, reason="counted")
    assert difference(count, lot) == 0
    posting.post_count(**who, count=count)
    assert on_hand(lot) == 17


def test_a_reversal_of_something_older_than_the_counting_moves_no_pieces(who, count, lot):
    """An issue was written down that never happened: 20 lie there, the books say 15, then it is reversed."""
    wrong = stock.issue_pieces(**who, lot=lot, quantity=5, reason="gate")
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 20)])
    assert difference(count, lot) == 5
    ledger.reverse(**who, movement=wrong, reason="not taken")
    assert difference(count, lot) == 0
    later = stock.issue_pieces(**who, lot=lot, quantity=1, reason="gate")
    ledger.reverse(**who, movement=later, reason="came back")
    posting.post_count(**who, count=count)
    assert on_hand(lot) == 20


def test_two_counts_of_one_lot_put_it_right_once(who, count, lot, rail):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 18)])
    elsewhere = PlaceFactory(organisation=who["organisation"])
    Lot.objects.filter(pk=lot.pk).update(place=elsewhere)
    second = services.start_count(**who, places=[elsewhere])
    services.record_counts(**who, count=second, counted=[Counted(lot.pk, 18)])
    posting.post_count(**who, count=count)
    posting.post_count(**who, count=second)
    assert on_hand(lot) == 18


def test_the_last_entry_stands_and_all_are_kept(who, count, lot):
    for pieces in (18, 19, 17):
        services.record_counts(**who, count=count, counted=[Counted(lot.pk, pieces)])
    line = count.lines.get()
    assert (line.counted, line.times) == (17, 3)
    assert [entry.counted for entry in line.entries.all()] == [17, 19, 18]


def test_lots_that_came_in_after_the_start_can_be_counted_too(who, count, rack, rail, lot):
    late = LotFactory(material=rail, place=rack, on_hand=4)
    assert list(selectors.lots_added_since(count=count)) == [late]
    services.record_counts(**who, count=count, counted=[Counted(late.pk, 4)])
    assert list(selectors.lots_added_since(count=count)) == []
    elsewhere = LotFactory(material=rail, place=PlaceFactory(organisation=who["organisation"], name="Shed"))
    with pytest.raises(ValidationError, match="lies at Shed, which is not part of count 1"):
        services.record_counts(**who, count=count, counted=[Counted(elsewhere.pk, 4)])


def test_a_refused_entry_leaves_nothing(who, count, lot, rail):
    elsewhere = LotFactory(material=rail, place=PlaceFactory(organisation=who["organisation"]))
    with pytest.raises(ValidationError):
        services.record_counts(**who, count=count, counted=[Counted(lot.pk, 3), Counted(elsewhere.pk, 4)])
    assert not CountEntry.objects.exists()
    assert count.lines.get().counted is None


def test_found_pieces_become_a_lot(who, count, rack, rail, lot):
    found = services.record_find(**who, count=count, place=rack, material=rail, length=FOOT * 10, quantity=4)
    assert found.unit_cost == Decimal("12.90")
    # A stick of 10 ft cost 12.90, so one of 5 ft 6.45.
    assert selectors.usual_cost(organisation=who["organisation"], material=rail, length=FOOT * 5) == Decimal("6.45")
    mistaken = services.record_find(**who, count=count, place=rack, material=rail, length=FOOT * 8, quantity=9)
    services.cancel_find(**who, find=mistaken)
    sums = selectors.sums_of(count=count, finds=selectors.finds_of(count=count))
    assert (sums.more, sums.less) == (Decimal("51.60"), Decimal(0))
    posting.post_count(**who, count=count)
    found.refresh_from_db()
    assert (on_hand(found.lot), found.lot.place, found.lot.length) == (4, rack, FOOT * 10)
    assert found.lot.movements.get().paper == "Count 1"
    assert Lot.objects.count() == 2


def test_differences_come_by_their_money_and_sum_up(who, rack, rail):
    given = {"material": rail, "place": rack, "on_hand": 20}
    dear = LotFactory(**given, unit_cost=Decimal("20.005"))
    cheap = LotFactory(**given, unit_cost=Decimal("0.06"))
    right = LotFactory(**given)
    more = LotFactory(**given, unit_cost=Decimal("3"))
    count = services.start_count(**who, places=[rack])
    pieces = {dear: 19, cheap: 1, right: 20, more: 22}
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, n) for lot, n in pieces.items()])
    assert [line.lot for line in selectors.differences_of(count=count)] == [dear, more, cheap]
    sums = selectors.sums_of(count=count, finds=[])
    # By hand: -20.01 (20.005 half up) - 19 x 0.06 = -21.15; 2 x 3 = 6.
    assert (sums.lots, sums.less, sums.more, sums.net) == (3, Decimal("-21.15"), Decimal(6), Decimal("-15.15"))
    assert selectors.large_differences(count=count, limit=Decimal(6)) == [
        count.lines.get(lot=dear).pk,
        count.lines.get(lot=more).pk,
    ]


def test_a_second_count_is_waited_for(who, count, lot):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 10)])
    large = selectors.large_differences(count=count, limit=Decimal(100))
    assert services.request_recount(**who, count=count, lines=large) == 1
    with pytest.raises(ValidationError, match="1 lot still waits for a second count"):
        posting.post_count(**who, count=count)
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 18)])
    posting.post_count(**who, count=count)
    assert on_hand(lot) == 18


def test_posting_what_changed_since_it_was_looked_at_is_refused(who, count, lot):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 10)])
    seen = selectors.progress_of(count=count)
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 18)])
    with pytest.raises(ValidationError, match="Something was entered while this page was open"):
        posting.post_count(**who, count=count, seen=seen)
    assert on_hand(lot) == 20


def test_pieces_taken_since_that_were_not_there_are_refused(who, count, lot):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 3)])
    stock.issue_pieces(**who, lot=lot, quantity=15, reason="gate")
    with pytest.raises(posting.CountProblems, match="more than that was taken out since"):
        posting.post_count(**who, count=count)
    assert on_hand(lot) == 5
    count.refresh_from_db()
    assert count.is_open


def test_one_line_that_cannot_be_posted_holds_back_all(who, rack, rail, lot):
    other = LotFactory(material=rail, place=rack, on_hand=9)
    count = services.start_count(**who, places=[rack])
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 3), Counted(other.pk, 8)])
    stock.issue_pieces(**who, lot=lot, quantity=15, reason="gate")
    with pytest.raises(posting.CountProblems):
        posting.post_count(**who, count=count)
    assert on_hand(other) == 9


def test_nothing_counted_is_not_posted(who, count):
    with pytest.raises(ValidationError, match="Nothing has been entered"):
        posting.post_count(**who, count=count)


def test_a_posted_count_is_never_changed(who, count, lot, rack, rail):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 17)])
    posting.post_count(**who, count=count)
    for change in (
        lambda: posting.post_count(**who, count=count),
        lambda: services.record_counts(**who, count=count, counted=[Counted(lot.pk, 1)]),
        lambda: services.record_find(**who, count=count, place=rack, material=rail, length=FOOT, quantity=1),
        lambda: services.cancel_count(**who, count=count),
        lambda: services.withdraw_recount(**who, count=count),
    ):
        with pytest.raises(ValidationError, match="Count 1 is posted"):
            change()
    assert on_hand(lot) == 17


def test_the_database_itself_keeps_a_posted_count(who, count, lot, rack, rail):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 17)])
    found = services.record_find(**who, count=count, place=rack, material=rail, length=FOOT, quantity=1)
    posting.post_count(**who, count=count)
    line = count.lines.get()
    entry = {"line": line, "counted": 1, "expected": 1, "upto": 1, "counted_at": timezone.now()}
    other = LotFactory(material=rail, place=rack)
    for change in (
        lambda: StockCount.objects.filter(pk=count.pk).update(state="open", ended_at=None),
        lambda: StockCount.objects.filter(pk=count.pk).update(blind=True),
        lambda: CountLine.objects.filter(pk=line.pk).update(counted=3),
        lambda: CountLine.objects.create(count=count, lot=other, place=rack),
        lambda: CountEntry.objects.create(**entry),
        lambda: CountEntry.objects.all().update(counted=3),
        lambda: CountFind.objects.filter(pk=found.pk).update(quantity=3),
        lambda: _delete("stock_countentry"),
        lambda: _delete("stock_countfind"),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def _delete(table: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {table}")


def test_another_organisation_counts_none_of_ours(who, lot, rack, count, rail):
    other = OrganisationFactory()
    with pytest.raises(ValidationError):
        services.start_count(organisation=other, user=None, places=[rack])
    theirs = LotFactory(material=MaterialFactory(organisation=other))
    with pytest.raises(ValidationError, match="not there any more"):
        services.record_counts(**who, count=count, counted=[Counted(theirs.pk, 3)])
    with pytest.raises(StockCount.DoesNotExist):
        services.record_counts(organisation=other, user=None, count=count, counted=[Counted(lot.pk, 3)])


def hold_pieces(lot, user, quantity: int) -> None:
    """As an accepted plan holds them for a house."""
    house = HouseFactory(site__organisation=lot.organisation, name="North 1")
    plan = Plan.objects.create(
        organisation=lot.organisation,
        number=3,
        name="Spring",
        state=Plan.State.READY,
        as_of=date(2027, 2, 1),
        delivery_site=house.site,
        inputs={},
        inputs_digest="1",
        result={},
        result_digest="1",
        accepted_at=timezone.now(),
        accepted_by=user,
    )
    PlanHouse.objects.create(plan=plan, house=house, accepted=True)
    wanted = [NewReservation(quantity, house.pk, "hoops", date(2027, 5, 1), lot=lot.pk)]
    reserve(organisation=plan.organisation_id, plan=plan.pk, user=user.pk, wanted=wanted)
    lot.refresh_from_db()
    assert lot.reserved == quantity


def test_no_count_goes_below_what_houses_hold_and_members_are_promised_together(who, count, lot):
    hold_pieces(lot, who["user"], 5)
    Lot.objects.filter(pk=lot.pk).update(promised=6)
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 10)])
    with pytest.raises(posting.CountProblems, match="6 of lot RACK-1 are kept for members"):
        posting.post_count(**who, count=count)
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 11)])
    posting.post_count(**who, count=count)
    assert on_hand(lot) == 11


def test_no_count_goes_below_what_houses_hold(who, count, lot):
    hold_pieces(lot, who["user"], 18)
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 17)])
    [short] = selectors.differences_of(count=count)
    assert (short.left, short.held_short) == (17, 1)
    with pytest.raises(posting.CountProblems) as refused:
        posting.post_count(**who, count=count)
    assert [problem.line.lot for problem in refused.value.problems] == [lot]
    assert (
        "Lot RACK-1: 17 pieces would be there, and houses hold 18: 18 for North 1 (plan 3). Count it again, or"
        " release what is not there" in refused.value.messages[0]
    )
    assert on_hand(lot) == 20
    [held] = Reservation.objects.filter(lot=lot)
    release(organisation=who["organisation"], user=who["user"], reservation=held, quantity=1)
    posting.post_count(**who, count=count)
    assert on_hand(lot) == 17
