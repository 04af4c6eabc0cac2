"""What bookings that came back come to: proposed, posted once, taken back, posted again."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction

from farmbuild.coop.charges import services
from farmbuild.coop.charges.proposals import proposed_charges
from farmbuild.coop.models import BookingCharge, Damage, MemberEntry
from farmbuild.crew.bookings.services import set_pulls
from tests.coop.making import Cooperative, may
from tests.factories import BenderBookingFactory, BenderFactory, MembershipFactory

pytestmark = pytest.mark.django_db
D = Decimal


def test_days_really_out_are_charged_pulls_and_a_late_return_too(coop):
    coop.rate("day", "12.50")
    coop.rate("pull", "0.35")
    coop.rate("late-day", "20")
    coop.rate("late", "15")
    coop.back(may(4), may(6), back=may(8), pulls=41)
    [days, pulls, late] = proposed_charges(organisation=coop.organisation)
    assert (days.amount, pulls.amount, late.amount) == (D("62.50"), D("14.35"), D("55.00"))
    assert days.what.replace("\xa0", " ") == "5 days at $12.50: West, 4 May 2026 to 8 May 2026"
    assert late.what.replace("\xa0", " ").startswith("2 days late at $20.00 and a late return at $15.00: West, ")
    assert coop.post() == 3
    assert coop.owes(coop.alder) == D("131.85")
    assert coop.proposed() == []


def test_what_is_back_before_its_last_day_and_the_same_day_pays_for_what_it_had(coop):
    coop.rate("day", "12.50")
    coop.rate("late-day", "20")
    coop.back(may(4), may(8), back=may(5))
    coop.back(may(11), may(12), back=may(11))
    # It left on the second day that was booked.
    coop.back(may(18), may(21), out=may(19))
    assert coop.proposed() == [("days", D(25)), ("days", D("12.50")), ("days", D("37.50"))]


def test_each_day_has_the_price_of_its_own_day(coop):
    coop.rate("day", "10")
    coop.rate("day", "11.111", since=may(6))
    coop.rate("day", "99", since=may(30))
    coop.back(may(4), may(8))
    [one] = proposed_charges(organisation=coop.organisation)
    assert [(line.count, line.each) for line in one.lines] == [(2, D(10)), (3, D("11.111"))]
    assert one.amount == D("53.33")


def test_days_before_the_first_price_are_in_no_charge(coop):
    coop.rate("day", "10", since=may(7))
    coop.back(may(4), may(8))
    assert coop.proposed() == [("days", D(20))]


def test_a_bender_has_its_own_price_from_its_day_on(coop):
    east = BenderFactory(organisation=coop.organisation, name="East")
    coop.rate("day", "10")
    coop.rate("day", "30", since=may(7), bender=coop.west)
    coop.back(may(4), may(8))
    coop.back(may(4), may(8), bender=east)
    assert coop.proposed() == [("days", D(90)), ("days", D(50))]


@pytest.mark.parametrize(
    ("zone", "first", "last"),
    [
        ("America/New_York", date(2026, 3, 6), date(2026, 3, 9)),  # an hour is missing on the 8th
        ("America/New_York", date(2026, 10, 30), date(2026, 11, 2)),  # an hour twice on the 1st
        ("Pacific/Auckland", date(2026, 4, 3), date(2026, 4, 6)),
    ],
)
def test_days_are_those_of_the_clock_on_the_wall(organisation, user, zone, first, last):
    organisation.time_zone = zone
    organisation.save()
    coop = Cooperative(organisation, user)
    coop.rate("day", "10")
    coop.rate("late-day", "3")
    coop.back(first, date(first.year, last.month, last.day - 1), back=last)
    assert coop.proposed() == [("days", D(40)), ("late", D(3))]


def test_own_work_and_what_did_not_come_back_cost_no_member_anything(coop):
    coop.rate("day", "10")
    for state, member in (("cancelled", coop.alder), ("booked", coop.alder), ("back", None)):
        BenderBookingFactory(
            bender=coop.west,
            member=member,
            first=may(4),
            state=state,
            out_at=coop.at(may(4)) if state == "back" else None,
            back_at=coop.at(may(6)) if state == "back" else None,
        )
    BenderBookingFactory(bender=coop.west, member=coop.alder, first=may(10), state="out", out_at=coop.at(may(10)))
    assert coop.proposed() == []


def test_a_price_that_changes_later_changes_no_past_charge(coop):
    coop.rate("day", "10")
    coop.back(may(4), may(5))
    coop.post()
    coop.rate("day", "99")
    assert coop.owes(coop.alder) == D(20)
    assert coop.proposed() == []


def test_only_what_was_shown_is_posted_and_once(coop):
    coop.rate("day", "10")
    coop.back(may(4), may(5))
    seen = [one.token for one in proposed_charges(organisation=coop.organisation)]
    coop.rate("day", "11")
    with pytest.raises(ValidationError, match="changed since the page"):
        services.post_charges(**coop.who, seen=seen)
    assert coop.owes(coop.alder) == 0
    assert coop.post() == 1
    with pytest.raises(ValidationError, match="changed since the page"):
        services.post_charges(**coop.who, seen=[])


def test_taken_back_it_is_proposed_anew_as_it_is_now(coop):
    coop.rate("day", "10")
    coop.rate("pull", "1")
    booking = coop.back(may(4), may(5), pulls=7)
    coop.post()
    pulls = MemberEntry.objects.get(kind="pulls")
    services.take_back_charge(**coop.who, entry=pulls, reason="it was 9")
    set_pulls(**coop.who, booking=booking, pulls=9)
    assert coop.proposed() == [("pulls", D(9))]
    coop.post()
    assert coop.owes(coop.alder) == D(29)
    assert BookingCharge.objects.filter(booking=booking).count() == 3


def test_free_days_go_to_the_first_days_of_a_season(coop):
    coop.rate("day", "10")
    coop.free(4)
    coop.back(may(4), may(6))
    coop.back(may(11), may(13))
    coop.back(may(18), may(18), member=coop.birch)
    coop.back(date(2026, 12, 30), date(2027, 1, 2))
    # Three and one of Alder in 2026; of the last booking the days of the next year.
    assert coop.proposed() == [("days", D(20)), ("days", D(20))]
    [one, over] = proposed_charges(organisation=coop.organisation)
    assert [(line.count, line.free) for line in one.lines] == [(1, 1), (2, 0)]
    assert [(line.count, line.free) for line in over.lines] == [(2, 0), (2, 2)]
    coop.post()
    assert coop.proposed() == []


def test_free_days_of_a_charge_that_stands_are_used_once(coop):
    coop.rate("day", "10")
    coop.free(2)
    coop.back(may(4), may(6))
    coop.post()
    [first] = MemberEntry.objects.all()
    coop.back(may(1), may(1))
    assert coop.proposed() == [("days", D(10))]
    coop.post()
    services.take_back_charge(**coop.who, entry=first, reason="wrong day")
    assert coop.proposed() == [("days", D(10))]


def test_whoever_has_two_shares_has_twice_the_free_days(coop):
    coop.rate("day", "10")
    coop.free(1)
    coop.birch.share = 2
    coop.birch.save()
    coop.back(may(4), may(6))
    coop.back(may(11), may(13), member=coop.birch)
    assert coop.proposed() == [("days", D(20)), ("days", D(10))]


def test_damage_is_asked_for_disputed_and_answered(coop):
    booking = coop.back(may(4), may(6))
    with pytest.raises(ValidationError, match="above 0"):
        services.charge_damage(**coop.who, booking=booking, what="roller bent", amount=D(0))
    with pytest.raises(ValidationError, match="no coins as small"):
        services.charge_damage(**coop.who, booking=booking, what="roller bent", amount=D("1.005"))
    with pytest.raises(ValidationError, match="what is damaged"):
        services.charge_damage(**coop.who, booking=booking, what=" ", amount=D(1))
    one = services.charge_damage(**coop.who, booking=booking, what="roller bent", amount=D("84.20"))
    two = services.charge_damage(**coop.who, booking=booking, what="handle gone", amount=D("12"))
    assert coop.owes(coop.alder) == D("96.20")
    for damage in (one, two):
        services.dispute_for_member(**coop.who, damage=damage, why="it was so before")
    with pytest.raises(ValidationError, match="disputed already"):
        services.dispute_for_member(**coop.who, damage=one, why="again")
    services.answer_damage(**coop.who, damage=one, withdraw=True, answer="seen on the photos of March")
    services.answer_damage(**coop.who, damage=two, withdraw=False, answer="it left with a handle")
    assert coop.owes(coop.alder) == D(12)
    assert [*Damage.objects.order_by("pk").values_list("state", flat=True)] == ["withdrawn", "stands"]
    with pytest.raises(ValidationError, match="withdrawn"):
        services.answer_damage(**coop.who, damage=one, withdraw=True, answer="again")
    with pytest.raises(ValidationError, match="where it was made"):
        services.take_back_charge(**coop.who, entry=two.entry, reason="no")


def test_damage_that_nobody_disputes_is_withdrawn_or_needs_no_answer(coop):
    booking = coop.back(may(4), may(6))
    damage = services.charge_damage(**coop.who, booking=booking, what="roller bent", amount=D("84.20"))
    with pytest.raises(ValidationError, match="This is asked"):
        services.answer_damage(**coop.who, damage=damage, withdraw=False, answer="it left whole")
    assert Damage.objects.get().state == "asked" and coop.owes(coop.alder) == D("84.20")
    services.answer_damage(**coop.who, damage=damage, withdraw=True, answer="it was another member")
    assert coop.owes(coop.alder) == 0


def test_damage_is_of_a_members_booking_that_is_back(coop):
    out = BenderBookingFactory(bender=coop.west, member=coop.alder, first=may(4), state="out", out_at=coop.at(may(4)))
    own = BenderBookingFactory(bender=coop.west, member=None, first=may(10), state="back")
    for booking, words in ((out, "Check the bender in first"), (own, "your own work")):
        with pytest.raises(ValidationError, match=words):
            services.charge_damage(**coop.who, booking=booking, what="bent", amount=D(1))


def test_the_database_keeps_charges_and_damage(coop):
    coop.rate("day", "10")
    booking = coop.back(may(4), may(6))
    coop.post()
    damage = services.charge_damage(**coop.who, booking=booking, what="roller bent", amount=D(5))
    with pytest.raises(IntegrityError, match="booking_charge_never_edited"), transaction.atomic():
        BookingCharge.objects.update(lines=[])
    with pytest.raises(IntegrityError, match="damage_never_edited"), transaction.atomic():
        Damage.objects.filter(pk=damage.pk).update(amount=1)
    with pytest.raises(IntegrityError, match="damage_never_deleted"), transaction.atomic():
        Damage.objects.filter(pk=damage.pk)._raw_delete("default")
    assert Damage.objects.get().amount == D(5)


@pytest.mark.django_db(transaction=True)
def test_of_six_managers_who_press_at_once_one_posts():
    membership = MembershipFactory()
    coop = Cooperative(membership.organisation, membership.user)
    coop.rate("day", "10")
    coop.back(may(4), may(6))
    seen = [one.token for one in proposed_charges(organisation=coop.organisation)]

    def work(number):
        try:
            return services.post_charges(**coop.who, seen=seen)
        except ValidationError:
            return 0
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        assert sum(pool.map(work, range(6))) == 1
    assert coop.owes(coop.alder) == D(30)
