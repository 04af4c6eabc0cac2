"""Pulls against the bending sheet's own count, services that fall due, drift from hoops over members, and its end."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from farmbuild.crew.bookings.pulls import pulls_of
from farmbuild.demo.diary import clock_at
from farmbuild.hoops.batches import services as batches
from farmbuild.hoops.batches.bending_sheet import batch_bending_sheet
from farmbuild.hoops.batches.measured import services
from farmbuild.hoops.batches.measured.bridge import radius_at_gap
from farmbuild.hoops.batches.measured.findings import drift_words, findings_in
from farmbuild.hoops.batches.measured.models import MeasuredHoop, ServiceRecord
from farmbuild.hoops.batches.measured.wear import due_of, months_after, wear_of
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.acts import NotAllowed
from farmbuild.orgs.clock import today_of
from tests.factories import INCH, BenderBookingFactory, BenderFactory, MaterialFactory, MembershipFactory
from tests.hoops.batches.making import TARGET

pytestmark = pytest.mark.django_db


def on_the_sheet(batch) -> int:
    """Pulls of a hoop as the sheet at the bender says them: 14 pulls, each to a stop gap of …"""
    return int(batch_bending_sheet(batch).answer.split()[0])


def test_every_hoop_bent_is_so_many_pulls(shop):
    bender, a_hoop = shop.batch.bender, on_the_sheet(shop.batch)
    assert wear_of(bender=bender).pulls == 0
    shop.issue(2)
    shop.measure(TARGET + INCH * 4)
    assert wear_of(bender=bender).pulls == a_hoop
    # The same sticks, opened and pulled again.
    trial = shop.measure(TARGET)
    batches.accept_trial(**shop.on, trial=trial)
    assert wear_of(bender=bender).pulls == 2 * a_hoop
    shop.issue(20)
    batches.record_bent(**shop.on, hoops=5)
    assert wear_of(bender=bender).pulls == 7 * a_hoop
    # Spoilt ones were bent; miscounted ones were not.
    batches.take_back_hoops(**shop.on, hoops=2, reason="kinked", spoilt=True)
    assert wear_of(bender=bender).pulls == 7 * a_hoop
    batches.take_back_hoops(**shop.on, hoops=1, reason="miscounted", spoilt=False)
    assert wear_of(bender=bender).pulls == 6 * a_hoop
    batches.write_off_sticks(**shop.on, quantity=1, reason="bent too far")
    assert wear_of(bender=bender).pulls == 6 * a_hoop + -(-a_hoop // 2)
    # Before they were counted here, and on another bender.
    Bender.objects.filter(pk=bender.pk).update(earlier_pulls=400)
    bender.refresh_from_db()
    assert wear_of(bender=bender).pulls == 400 + 6 * a_hoop + -(-a_hoop // 2)
    assert wear_of(bender=BenderFactory(organisation=shop.organisation)).pulls == 0


def test_a_trial_hoop_whose_sticks_are_scrap_counts_once(shop):
    a_hoop = on_the_sheet(shop.batch)
    shop.issue(2)
    shop.measure(TARGET + INCH * 4)
    shop.measure(TARGET, same_sticks=False, lot=shop.lot)
    assert shop.now().sticks_spoilt == 2
    assert wear_of(bender=shop.batch.bender).pulls == 2 * a_hoop


def test_pulls_of_bookings_are_typed_or_counted(shop):
    bender, today = shop.batch.bender, today_of(organisation=shop.organisation)
    shop.prove()
    now = timezone.now()
    days = {"bender": bender, "first": today, "last": today, "state": "back", "out_at": now, "back_at": now}
    lent = BenderBookingFactory(**days, pulls=240)
    untold = BenderBookingFactory(**days)
    own = BenderBookingFactory(**days, member=None)
    before = BenderBookingFactory(
        **days
        | {"first": date(2026, 1, 5), "last": date(2026, 1, 6)}
        | dict.fromkeys(("out_at", "back_at"), now - timedelta(days=300)),
        member=None,
    )
    a_hoop = on_the_sheet(shop.batch)
    assert pulls_of(bookings=[lent, untold, own, before]) == {
        lent.pk: 240,
        untold.pk: None,
        own.pk: a_hoop,
        before.pk: 0,
    }
    # Those of own work are in the batches already.
    own.pulls = 9
    own.save()
    assert wear_of(bender=bender).pulls == 240 + a_hoop
    assert pulls_of(bookings=[own]) == {own.pk: 9}
    assert pulls_of(bookings=[]) == {}


@pytest.mark.parametrize(
    ("rule", "since", "today", "overdue", "soon"),
    [
        ({}, 10**6, date(2027, 5, 3), False, False),
        ({"service_pulls": 5000}, 4499, date(2027, 5, 3), False, False),
        ({"service_pulls": 5000}, 4500, date(2027, 5, 3), False, True),
        ({"service_pulls": 5000}, 5000, date(2027, 5, 3), False, True),
        ({"service_pulls": 5000}, 5001, date(2027, 5, 3), True, False),
        ({"service_months": 1}, 0, date(2027, 2, 27), False, True),
        ({"service_months": 1}, 0, date(2027, 2, 28), False, True),
        ({"service_months": 1}, 0, date(2027, 3, 1), True, False),
        ({"service_months": 12}, 0, date(2027, 5, 3), False, False),
        ({"service_pulls": 5000, "service_months": 1}, 10, date(2027, 3, 1), True, False),
        ({"service_pulls": 5000, "service_months": 12}, 5001, date(2027, 2, 1), True, False),
    ],
)
def test_a_service_is_due_by_what_comes_first(rule, since, today, overdue, soon):
    due = due_of(Bender(**rule), since, date(2027, 1, 31), today)
    assert (due.overdue, due.soon) == (overdue, soon)


def test_months_end_where_they_are_shorter():
    assert months_after(date(2027, 1, 31), 1) == date(2027, 2, 28)
    assert months_after(date(2027, 1, 31), 13) == date(2028, 2, 29)
    assert months_after(date(2027, 12, 5), 1) == date(2028, 1, 5)
    assert months_after(date(2027, 1, 31), 3) == date(2027, 4, 30)


def test_a_bender_that_nobody_used_is_not_due_by_months():
    assert due_of(Bender(service_months=1), 0, None, date(2037, 1, 1)).day is None


@pytest.fixture
def lent(organisation, user):
    """A bender with hoops of members: (pulls, inches of radius) each, a month apart, all of one pipe."""
    bender = BenderFactory(organisation=organisation, name="Wide bender")
    rail = MaterialFactory(organisation=organisation, code="rail", name="1-3/8 in rail")
    today = today_of(organisation=organisation)
    who = {"organisation": organisation, "user": user}

    class Lent:
        def __init__(self) -> None:
            self.bender, self.tube, self.who, self.today, self.count = bender, rail, who, today, 0

        def hoop(self, radius: float, *, tube=rail, pulls: int = 500) -> MeasuredHoop:
            """Half a circle of 250 in of pipe, the rest straight legs, bent after so many more pulls."""
            self.count += 1
            day = today - timedelta(days=30 * (12 - self.count))
            at = timezone.now() - timedelta(days=(today - day).days)
            booking = BenderBookingFactory(
                bender=bender, first=day, last=day, state="back", out_at=at, back_at=at, pulls=pulls
            )
            size = INCH * Decimal(str(radius))
            legs = (INCH * 250 - size * Decimal("3.1416")) / 2
            data = {"free_span": 2 * size, "rise": size + legs, "pipe": INCH * 250}
            return services.record_hoop(**who, bender=bender, booking=booking, data=data | {"day": day, "tube": tube})

        @property
        def wear(self):
            return wear_of(bender=Bender.objects.get(pk=bender.pk))

        def keys(self) -> list[str]:
            return [finding.key for finding in findings_in(self.wear)]

    return Lent()


def test_radius_follows_from_span_and_rise(lent):
    row = lent.hoop(72)
    assert (row.radius, row.member) == (INCH * 72, row.booking.member)
    # A flat arc: 60 in wide and 10 high has R = 60² / 80 + 5 = 50 in.
    data = {"day": lent.today, "tube": lent.tube, "free_span": INCH * 60, "rise": INCH * 10, "pipe": INCH * 64}
    row = services.record_hoop(**lent.who, bender=lent.bender, data=data)
    assert row.radius == INCH * 50
    assert row.member is None


def test_it_drifts_when_change_exceeds_limit_and_spread(lent):
    for radius in (72, 72.1, 72, 72.1):
        lent.hoop(radius)
    [tube] = lent.wear.tubes
    assert not tube.drifts
    assert "No drift with 1-3/8 in rail" in drift_words(lent.wear, tube)
    for radius in (73, 73.4, 74):
        lent.hoop(radius)
    [tube] = lent.wear.tubes
    assert tube.drifts
    assert tube.trend.change > 25.4
    words = drift_words(lent.wear, tube)
    assert "wider over 3,000 pulls, in 7 hoops." in words
    assert 'it may change by 1"' in words
    # The cooperative's own limit.
    Bender.objects.filter(pk=lent.bender.pk).update(drift_limit=INCH * 3)
    assert lent.keys() == []


def test_another_tube_is_another_trend(lent):
    post = MaterialFactory(organisation=lent.bender.organisation, code="post", name="1-5/8 in post")
    for radius in (72, 72.1, 72, 72.1):
        lent.hoop(radius)
    for radius in (75, 75.1, 75, 75.1):
        lent.hoop(radius, tube=post)
    assert {tube.tube.pk for tube in lent.wear.tubes} == {lent.tube.pk, post.pk}
    assert lent.keys() == []


def drifting(lent) -> str:
    for radius in (72, 72, 73, 73.5, 74):
        lent.hoop(radius)
    [key] = lent.keys()
    return key


def test_a_service_closes_it_and_taking_the_service_back_opens_it_again(lent):
    key = drifting(lent)
    data = {"day": lent.today, "done": "New shoe", "who": "Ada"}
    row = services.record_service(**lent.who, bender=lent.bender, data=data)
    assert row.pulls == 2500
    assert lent.keys() == []
    services.take_back_service(**lent.who, row=row, reason="It was another bender.")
    assert lent.keys() == [key]
    with pytest.raises(ValidationError, match="taken back already"):
        services.take_back_service(**lent.who, row=row, reason="again")


def test_a_mistyped_hoop_taken_back_tells_nothing(lent):
    for radius in (72, 72.1, 72, 72.1):
        lent.hoop(radius)
    wrong = [lent.hoop(radius) for radius in (75, 76, 77, 78)]
    assert lent.keys()
    with pytest.raises(ValidationError, match="Say why"):
        services.take_back_hoop(**lent.who, row=wrong[0], reason=" ")
    for row in wrong:
        services.take_back_hoop(**lent.who, row=row, reason="Measured over the posts.")
    assert lent.keys() == []
    assert len(lent.wear.hoops) == 4
    assert MeasuredHoop.objects.count() == 8


def test_an_accepted_trial_hoop_that_is_right_closes_it(shop):
    """Trial hoops of one recipe come out ever wider; the newest one, accepted, stands as the first did."""
    shop.issue(2)
    key, began = shop.batch.bender_id, timezone.now()

    def findings():
        return findings_in(wear_of(bender=Bender.objects.get(pk=key)))

    Bender.objects.filter(pk=key).update(drift_limit=INCH / 2)
    for off in (0, 0, 3, 4, 5):
        shop.measure(TARGET + INCH * off)
    # Of one day: whoever bent them was learning.
    assert findings() == []
    with clock_at(began + timedelta(days=2)):
        shop.measure(TARGET + INCH * 6)
        [finding] = findings()
        assert finding.title == "It drifts"
        right = shop.measure(TARGET)
        assert [one.key for one in findings()] == [finding.key]
        batches.accept_trial(**shop.on, trial=right)
        assert findings() == []
        assert wear_of(bender=Bender.objects.get(pk=key)).accepted == right


def test_a_corrected_stop_gap_hides_no_drift(shop):
    """The same hoop, with half an inch more gap: the bender itself bends tighter than it did."""
    shop.issue(2)
    trial = shop.measure(TARGET)
    trial = type(trial).objects.select_related("batch__recipe").get(pk=trial.pk)
    same = radius_at_gap(trial)
    assert same == pytest.approx(float(trial.effective_radius))
    trial.stop_gap += INCH / 2
    pitch = float(trial.batch.recipe.pitch)
    assert radius_at_gap(trial) == pytest.approx(1 / (1 / same + 12.7 / pitch**2))
    assert radius_at_gap(trial) < same


def test_overdue_is_said_from_the_day_on_without_anything_stored(lent, monkeypatch):
    Bender.objects.filter(pk=lent.bender.pk).update(service_pulls=900)
    lent.hoop(72)
    assert lent.keys() == []
    lent.hoop(72)
    [finding] = findings_in(lent.wear)
    assert finding.key == "service:0"
    assert finding.words == (
        "1,000 pulls since its first use here; a service is due every 900 pulls. It is over by 100 pulls."
    )
    services.record_service(**lent.who, bender=lent.bender, data={"day": lent.today, "done": "Greased", "who": "Ada"})
    assert lent.keys() == []
    assert lent.wear.since_service == 0


def test_bad_input_is_told_at_its_field(lent):
    good = {"day": lent.today, "tube": lent.tube, "free_span": INCH * 144, "rise": INCH * 78, "pipe": INCH * 238}
    services.record_hoop(**lent.who, bender=lent.bender, data=good)
    wrong = {
        "day": {"day": lent.today + timedelta(days=1)},
        "tube": {"tube": MaterialFactory(code="elsewhere")},
        "rise": {"rise": Decimal(0)},
        "pipe": {"pipe": INCH * 120},
        "free_span": {},
    }
    for field, data in wrong.items():
        with pytest.raises(ValidationError) as refused:
            services.record_hoop(**lent.who, bender=lent.bender, data=good | data)
        assert list(refused.value.message_dict) == [field]
    assert MeasuredHoop.objects.count() == 1
    service = {"day": lent.today, "done": "Greased", "who": "Ada"}
    services.record_service(**lent.who, bender=lent.bender, data=service)
    for field, data in {
        "day": {"day": lent.today + timedelta(days=1)},
        "who": {"who": " ", "done": "x"},
        "done": {},
    }.items():
        with pytest.raises(ValidationError) as refused:
            services.record_service(**lent.who, bender=lent.bender, data=service | data)
        assert list(refused.value.message_dict) == [field]
    assert ServiceRecord.objects.count() == 1


def test_what_was_taken_back_is_written_down_again(lent):
    data = {"day": lent.today, "tube": lent.tube, "free_span": INCH * 144, "rise": INCH * 78, "pipe": INCH * 238}
    hoop = services.record_hoop(**lent.who, bender=lent.bender, data=data)
    services.take_back_hoop(**lent.who, row=hoop, reason="Another bender.")
    services.record_hoop(**lent.who, bender=lent.bender, data=data)
    service = {"day": lent.today, "done": "Greased", "who": "Ada"}
    row = services.record_service(**lent.who, bender=lent.bender, data=service)
    services.take_back_service(**lent.who, row=row, reason="Another bender.")
    services.record_service(**lent.who, bender=lent.bender, data=service)
    assert (MeasuredHoop.objects.count(), ServiceRecord.objects.count()) == (2, 2)
    film = MaterialFactory(organisation=lent.bender.organisation, code="film", kind="film")
    with pytest.raises(ValidationError, match="Choose from the tubes"):
        services.record_hoop(**lent.who, bender=lent.bender, data=data | {"tube": film, "rise": INCH * 79})


def test_a_service_that_is_written_down_later_counts_on_its_own_day(lent):
    """Hoops lie 330, 300 and 270 days back, 500 pulls each."""
    for _ in range(3):
        lent.hoop(72)

    def service(days, done):
        data = {"day": lent.today - timedelta(days=days), "done": done, "who": "Ada"}
        return services.record_service(**lent.who, bender=lent.bender, data=data)

    late = service(280, "New shoe")
    early = service(310, "Greased")
    assert (early.pulls, late.pulls) == (500, 1000)
    assert (lent.wear.last, lent.wear.since_service) == (late, 500)
    # On the day of the service itself what was measured before it counts no more, what was after it does.
    lent.count = 11
    lent.hoop(73)
    service(0, "New roller")
    assert lent.wear.tubes == ()
    lent.count = 11
    lent.hoop(74)
    assert [len(tube.hoops) for tube in lent.wear.tubes] == [1]


def test_what_comes_out_wrong_after_a_right_one_is_found_again(shop):
    shop.issue(2)
    key, began = shop.batch.bender_id, timezone.now()
    Bender.objects.filter(pk=key).update(drift_limit=INCH / 2)
    for off in (0, 0, 3, 4, 5):
        shop.measure(TARGET + INCH * off)
    with clock_at(began + timedelta(days=2)):
        shop.measure(TARGET + INCH * 6)
        batches.accept_trial(**shop.on, trial=shop.measure(TARGET))
        assert findings_in(wear_of(bender=Bender.objects.get(pk=key))) == []
        more = batches.create_batch(
            **shop.who,
            recipe=shop.batch.recipe,
            bender=shop.batch.bender,
            quantity=2,
            shares={},
            data={"post_span": shop.batch.post_span, "spring_in": shop.batch.spring_in},
        )
        shop.batch = more
        shop.issue(2)
    for day in (3, 4):
        with clock_at(began + timedelta(days=day)):
            shop.measure(TARGET + INCH * 7)
            assert [one.title for one in findings_in(wear_of(bender=Bender.objects.get(pk=key)))] == ["It drifts"]


def test_whoever_may_not_run_benders_writes_nothing(lent):
    reader = MembershipFactory(organisation=lent.bender.organisation, role="looks").user
    who = {"organisation": lent.bender.organisation, "user": reader}
    with pytest.raises(NotAllowed):
        services.record_service(**who, bender=lent.bender, data={"day": lent.today, "done": "x", "who": "y"})
    yard = MembershipFactory(organisation=lent.bender.organisation, role="yard").user
    with pytest.raises(NotAllowed):
        services.record_service(
            **who | {"user": yard},
            bender=lent.bender,
            data={"day": lent.today, "done": "x", "who": "y", "cost": Decimal(5)},
        )
    assert not ServiceRecord.objects.exists()
